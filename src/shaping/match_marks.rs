//! Marks of the second picture moved to where it shows the surroundings of the
//! same mark on the first: normalised cross-correlation of small patches
//! (Lewis 1995, Vision Interface, 120–123, MEM).

use kurbo::Point;

use super::error::ShapingError;
use super::follow::grey;
use super::picture::Picture;
use crate::case::Mark;
use crate::film::Film;
use crate::registration::{RegistrationError, Scale, Similarity, register};
use crate::units::FilmPoint;

/// Half the side of a patch, as a share of the marks' extent.
const PATCH: f64 = 0.05;
/// How far a patch is looked for, likewise.
const SEARCH: f64 = 0.015;
/// Samples from a patch's middle to its border.
const SAMPLES: i32 = 20;
/// Correlation below which a patch is not found (our own limit).
const LEAST_CORRELATION: f64 = 0.8;

/// Standard uncertainty of a mark found, px per coordinate: our own limit, above
/// what rendered blocks show (docs/before-after.md).
const MATCHED_U_PX: f64 = 0.1;

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
        after.marks_u_px = Some(MATCHED_U_PX);
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
    let mut found = Vec::new();
    let marks = after.0.iter().map(|mark| {
        let place = partner(mark).and_then(|one| {
            let films = [before.1, after.1];
            matched(films, point(one.px), point(mark.px), &similarity, extent)
        });
        match place {
            Some(px) => {
                found.push(mark.name.clone());
                Mark { px, ..mark.clone() }
            }
            None => mark.clone(),
        }
    });
    Ok(MatchedMarks {
        after: marks.collect(),
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

/// Where the surroundings of `mark` lie on the second film, near `clicked`.
fn matched(
    [first, second]: [&Film; 2],
    mark: Point,
    clicked: Point,
    similarity: &Similarity,
    extent: f64,
) -> Option<FilmPoint> {
    let step = PATCH * extent / f64::from(SAMPLES);
    let offsets = || {
        (-SAMPLES..=SAMPLES).flat_map(move |y| {
            (-SAMPLES..=SAMPLES).map(move |x| step * kurbo::Vec2::new(f64::from(x), f64::from(y)))
        })
    };
    let template = standardised(offsets().map(|off| grey(first, mark + off)).collect())?;
    // Turned and scaled like the pictures, but about the mark as clicked.
    let middle = similarity.map(mark);
    let on_second = |off: kurbo::Vec2| clicked + (similarity.map(mark + off) - middle);
    let correlation = |shift: [i32; 2]| -> Option<f64> {
        let shift = step * kurbo::Vec2::new(f64::from(shift[0]), f64::from(shift[1]));
        let patch = offsets().map(|off| grey(second, on_second(off + shift)));
        let patch = standardised(patch.collect())?;
        Some(template.iter().zip(patch).map(|(a, b)| a * b).sum())
    };
    let reach = (SEARCH * extent / step).ceil() as i32;
    let shifts = (-reach..=reach).flat_map(|y| (-reach..=reach).map(move |x| [x, y]));
    let scored = shifts.filter_map(|shift| Some((shift, correlation(shift)?)));
    let (best, peak) = scored.max_by(|a, b| a.1.total_cmp(&b.1))?;
    let is_inside = best.iter().all(|along| along.abs() < reach);
    if peak < LEAST_CORRELATION || !is_inside {
        return None;
    }
    let finer = |axis: usize| {
        let beside = |by: i32| {
            let mut shift = best;
            shift[axis] += by;
            correlation(shift)
        };
        let (low, high) = (beside(-1)?, beside(1)?);
        let bend = low - 2.0 * peak + high;
        let top = if bend < 0.0 {
            0.5 * (low - high) / bend
        } else {
            0.0
        };
        Some(step * (f64::from(best[axis]) + top.clamp(-0.5, 0.5)))
    };
    let place = on_second(kurbo::Vec2::new(finer(0)?, finer(1)?));
    Some(FilmPoint::new(place.x, place.y))
}

/// Less its mean, of length one; `None` for an even patch.
fn standardised(mut samples: Vec<f64>) -> Option<Vec<f64>> {
    let mean = crate::statistics::mean(&samples);
    samples.iter_mut().for_each(|sample| *sample -= mean);
    let length = samples.iter().map(|s| s * s).sum::<f64>().sqrt();
    (length > 0.0).then(|| samples.iter().map(|s| s / length).collect())
}
