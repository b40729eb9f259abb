//! Marks of the second picture moved to where it shows the surroundings of the
//! same mark on the first: normalised cross-correlation of small patches
//! (Lewis 1995, Vision Interface, 120–123, MEM).

use kurbo::{Point, Vec2};

use super::error::ShapingError;
use super::picture::Picture;
use super::section_fit::grey;
use crate::case::Mark;
use crate::film::Film;
use crate::registration::{RegistrationError, Scale, Similarity, register};
use crate::statistics::mean;
use crate::units::FilmPoint;

/// Half the side of a patch, as a share of the marks' extent.
const PATCH: f64 = 0.05;
/// How far a patch is looked for, likewise.
const SEARCH: f64 = 0.015;
/// Samples from a patch's middle to its border.
const SAMPLES: i32 = 20;
/// Correlation below which a patch is not found (our own limit).
const LEAST_CORRELATION: f64 = 0.8;

/// Places are found twice, the second time with steps of at most one px of the
/// second picture: samples then lie between px as they did, so that what
/// interpolation smooths favours no place.
const FINER_PX: f64 = 1.0;
/// What a place is off by beyond noise, px of the first picture: interpolation
/// between px (measured on rendered blocks, see docs/before-after.md).
const SAMPLING_U_PX: f64 = 0.02;
/// Two shifts, level and contrast.
const FITTED: f64 = 4.0;

/// Moves the marks of `after` to where the pictures show them. Unless every
/// mark that both have is found, they stay as they were clicked.
///
/// # Errors
/// [`ShapingError`]: the marks lie over each other in no way.
pub fn match_marks_of(
    before: &Picture,
    after: &mut Picture,
    films: [&Film; 2],
) -> Result<(), ShapingError> {
    let marks = [&before.case.marks, &after.case.marks];
    let is_common = |mark: &&Mark| marks[0].iter().any(|one| one.name == mark.name);
    let common = marks[1].iter().filter(is_common).count();
    let matched = match_marks((marks[0], films[0]), (marks[1], films[1]))?;
    if common > 0 && matched.found.len() == common {
        after.case.marks = matched.after;
        after.marks_u_px = Some(matched.u_px);
    }
    Ok(())
}

/// Marks by the pictures.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchedMarks {
    /// The second picture's marks, those found moved.
    pub after: Vec<Mark>,
    /// Names of those found.
    pub found: Vec<String>,
    /// Their standard uncertainty per coordinate, root mean square: by the noise
    /// that is left where they lie over each other.
    pub u_px: f64,
}

/// Looks for the surroundings of each mark of `before` near the mark of that
/// name in `after`. A mark whose surroundings are not found stays.
///
/// # Errors
/// [`RegistrationError`]: the marks lie over each other in no way.
pub fn match_marks(
    before: (&[Mark], &Film),
    after: (&[Mark], &Film),
) -> Result<MatchedMarks, RegistrationError> {
    let partner = |mark: &Mark| before.0.iter().find(|one| one.name == mark.name);
    let common: Vec<(Point, Point)> = after
        .0
        .iter()
        .filter_map(|mark| Some((point(partner(mark)?.px), point(mark.px))))
        .collect();
    let (of_before, of_after): (Vec<Point>, Vec<Point>) = common.into_iter().unzip();
    let similarity = register(&of_before, &of_after, Scale::Free)?.transform;
    let extent = extent(&of_before);
    let (mut found, mut variances) = (Vec::new(), Vec::new());
    let marks = after.0.iter().map(|mark| {
        let place = partner(mark).and_then(|one| {
            let films = [before.1, after.1];
            matched(films, point(one.px), point(mark.px), &similarity, extent)
        });
        match place {
            Some((px, u_px)) => {
                found.push(mark.name.clone());
                variances.push(u_px * u_px);
                Mark { px, ..mark.clone() }
            }
            None => mark.clone(),
        }
    });
    Ok(MatchedMarks {
        after: marks.collect(),
        u_px: match variances.is_empty() {
            true => f64::NAN,
            false => mean(&variances).sqrt(),
        },
        found,
    })
}

fn point(p: FilmPoint) -> Point {
    Point::new(p.x, p.y)
}

fn extent(points: &[Point]) -> f64 {
    let from = |a: &Point| points.iter().map(|b| a.distance(*b)).fold(0.0, f64::max);
    points.iter().map(from).fold(0.0, f64::max)
}

/// Where the surroundings of `mark` lie on the second film, near `clicked`, with
/// the standard uncertainty per coordinate, px of the second film.
fn matched(
    [first, second]: [&Film; 2],
    mark: Point,
    clicked: Point,
    similarity: &Similarity,
    extent: f64,
) -> Option<(FilmPoint, f64)> {
    let step = PATCH * extent / f64::from(SAMPLES);
    let offsets = || {
        (-SAMPLES..=SAMPLES).flat_map(move |y| {
            (-SAMPLES..=SAMPLES).map(move |x| step * Vec2::new(f64::from(x), f64::from(y)))
        })
    };
    let template_at = |shift: Vec2| {
        standardised(
            offsets()
                .map(|off| mean_grey(first, mark + off + shift))
                .collect(),
        )
    };
    let template = template_at(Vec2::ZERO)?;
    // Turned and scaled like the pictures, but about the mark as clicked.
    let middle = similarity.map(mark);
    let on_second = |off: Vec2| clicked + (similarity.map(mark + off) - middle);
    let patch = |shift: Vec2| {
        let samples = offsets().map(|off| mean_grey(second, on_second(off + shift)));
        standardised(samples.collect())
    };
    let correlation = |shift: Vec2| Some(dot(&template, &patch(shift)?));
    let reach = (SEARCH * extent / step).ceil() as i32;
    let shifts = (-reach..=reach).flat_map(|y| (-reach..=reach).map(move |x| [x, y]));
    let place = |[x, y]: [i32; 2]| step * Vec2::new(f64::from(x), f64::from(y));
    let scored = shifts.filter_map(|shift| Some((shift, correlation(place(shift))?)));
    let (best, peak) = scored.max_by(|a, b| a.1.total_cmp(&b.1))?;
    let is_inside = best.iter().all(|along| along.abs() < reach);
    if peak < LEAST_CORRELATION || !is_inside {
        return None;
    }
    let mut shift = place(best);
    let finer = step.min(FINER_PX / similarity.scale);
    for reach in [step, finer] {
        let top = |along: Vec2| {
            let beside = |by: f64| correlation(shift + by * reach * along);
            Some(reach * top_of(beside(-1.0)?, beside(0.0)?, beside(1.0)?))
        };
        let closer = Vec2::new(top(Vec2::new(1.0, 0.0))?, top(Vec2::new(0.0, 1.0))?);
        shift += closer;
    }
    // Samples nearer than two px share what they are interpolated from.
    let shared = (2.0 / step).max(1.0).powi(2);
    let of_first = slopes(template_at, finer)?;
    let of_second = slopes(|by| patch(shift + by), finer)?;
    let alike = correlation(shift)?;
    let unlike = (1.0 - alike * alike) / alike;
    let variance =
        unlike * shared / (template.len() as f64 - FITTED) * mean_variance(&of_first, &of_second)?;
    let place = on_second(shift);
    let u_px = similarity.scale * variance.sqrt().hypot(SAMPLING_U_PX);
    Some((FilmPoint::new(place.x, place.y), u_px))
}

/// How the samples of a patch rise as it is moved across and down.
fn slopes(patch: impl Fn(Vec2) -> Option<Vec<f64>>, step: f64) -> Option<[Vec<f64>; 2]> {
    let slope = |along: Vec2| {
        let [ahead, behind] = [patch(step * along)?, patch(-step * along)?];
        let rise = ahead.into_iter().zip(behind);
        Some(
            rise.map(|(a, b)| (a - b) / (2.0 * step))
                .collect::<Vec<f64>>(),
        )
    };
    Some([slope(Vec2::new(1.0, 0.0))?, slope(Vec2::new(0.0, 1.0))?])
}

/// Mean of four greys half a px around a place: less noise, and the same of it
/// wherever the place lies between px.
fn mean_grey(film: &Film, p: Point) -> f64 {
    let beside = [(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)];
    let greys = beside.map(|(x, y)| grey(film, p + Vec2::new(x, y)));
    mean(&greys)
}

/// Where a parabola through three values at −1, 0 and 1 is highest, at most half
/// a step from the middle.
fn top_of(low: f64, middle: f64, high: f64) -> f64 {
    let bend = low - 2.0 * middle + high;
    match bend < 0.0 {
        true => (0.5 * (low - high) / bend).clamp(-0.5, 0.5),
        false => 0.0,
    }
}

/// Mean variance of two shifts fitted together, for unit variance of a sample,
/// by the slopes of both pictures: their noise is not the same and adds nothing.
/// `None` for a patch that looks alike wherever it is moved along a line.
fn mean_variance(first: &[Vec<f64>; 2], second: &[Vec<f64>; 2]) -> Option<f64> {
    let [xx, yy] = [0, 1].map(|axis| dot(&first[axis], &second[axis]));
    let xy = 0.5 * (dot(&first[0], &second[1]) + dot(&first[1], &second[0]));
    let determinant = xx * yy - xy * xy;
    (xx > 0.0 && determinant > 1e-6 * xx * yy).then(|| 0.5 * (xx + yy) / determinant)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Less its mean, of length one; `None` for an even patch.
fn standardised(mut samples: Vec<f64>) -> Option<Vec<f64>> {
    let mean = mean(&samples);
    samples.iter_mut().for_each(|sample| *sample -= mean);
    let length = samples.iter().map(|s| s * s).sum::<f64>().sqrt();
    (length > 0.0).then(|| samples.iter().map(|s| s / length).collect())
}
