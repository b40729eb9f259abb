//! One click on a file: its centre line, its tip and the tooth-side face of
//! its stop.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use serde::Serialize;

use super::centre::{Evidence, Stiffness, Wish, film_points, metal_share, smooth_course};
use super::polyline::{arc_lengths_px, few_points, prolonged, resampled};
use super::raster::{Raster, Region};
use super::ribbon::Ribbon;
use super::ridge::RidgeKind;
use super::scale::working_scale_mm_per_px;
use super::tracker::{Tracker, direction_at};
use super::{TraceError, Watch};
use crate::film::Film;
use crate::units::FilmPoint;

/// How large things are.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LocateOptions {
    /// mm at the detector per px, where known. It only sets the widths looked
    /// for; without it the film is taken to be about 40 mm long.
    pub mm_per_px: Option<f64>,
}

/// A file found on the film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LocatedFile {
    /// Where the file leaves the tooth-side face of its stop.
    pub stop_px: FilmPoint,
    /// Its tip.
    pub tip_px: FilmPoint,
    /// Few points from stop to tip whose drawn curve follows the file.
    pub points_px: Vec<FilmPoint>,
    /// 0..=1; below 0.5 the places should be checked with care.
    pub confidence: f64,
    /// Wall time, ms.
    pub ms: f64,
}

/// Step along the file, mm.
const STEP_MM: f64 = 0.1;
/// Finer step for tip and stop, mm.
const FINE_STEP_MM: f64 = 0.04;
/// Distance between ribbon columns, mm.
const COLUMN_MM: f64 = 0.025;
/// Shortest distance from stop to tip that is believed, mm.
const LEAST_LENGTH_MM: f64 = 8.0;
/// Share of the shank that must stand out as only metal does.
const LEAST_METAL_SHARE: f64 = 0.65;
/// Half widths of instruments, mm.
const HALF_WIDTHS_MM: [f64; 4] = [0.07, 0.13, 0.22, 0.35];

/// Finds the file that runs within about half a millimetre of `near`.
///
/// # Errors
/// [`TraceError::NoFile`] when no instrument runs there;
/// [`TraceError::NoStop`] when no stop shows on it; [`TraceError::Cancelled`];
/// a click off the film; a pitch no film has.
pub fn locate_file(
    film: &Film,
    near: FilmPoint,
    options: &LocateOptions,
    cancel: &AtomicBool,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<LocatedFile, TraceError> {
    let start = Instant::now();
    let watch = Watch::new(cancel, progress);
    super::check_on_film(film, near, 1)?;
    let mm_per_px = working_scale_mm_per_px(film, options.mm_per_px)?;
    watch.reached(0.0)?;
    let opacity = Raster::from_film(film, Region::whole(film), 0);
    watch.reached(0.1)?;

    let first = direction_at(&opacity, near, mm_per_px).ok_or(TraceError::NoFile)?;
    let tracker = Tracker::new(&opacity, mm_per_px);
    let mut line = tracker.track(first.reversed(), &watch)?;
    line.reverse();
    line.push(first.place);
    line.extend(tracker.track(first, &watch)?);
    watch.reached(0.5)?;
    if arc_lengths_px(&line).last().copied().unwrap_or(0.0) * mm_per_px < LEAST_LENGTH_MM {
        return Err(TraceError::NoFile);
    }
    let line = centred(&opacity, &line, mm_per_px);
    watch.reached(0.7)?;

    let stop = find_stop(&opacity, &line, mm_per_px).ok_or(TraceError::NoStop)?;
    // The longer part of the file lies on the tooth's side of the stop.
    let lengths = arc_lengths_px(&line);
    let total = lengths.last().copied().unwrap_or(0.0);
    watch.reached(0.85)?;
    let mut shank = points_between(&line, stop.at_px, total);
    if stop.tip_side_is_start {
        shank = points_between(&line, 0.0, stop.at_px);
        shank.reverse();
    }
    let shank = resampled(&shank, FINE_STEP_MM / mm_per_px, 8);
    let rough = find_tip(&opacity, &shank, 3.0, mm_per_px).ok_or(TraceError::NoFile)?;
    // Once more along a line that only the instrument itself has shaped.
    let sure_px = rough.at_px - 0.1 / mm_per_px;
    let shank = centred(&opacity, &points_up_to(&rough.axis, sure_px), mm_per_px);
    let shank = resampled(&shank, FINE_STEP_MM / mm_per_px, 8);
    let tip = find_tip(&opacity, &shank, 0.5, mm_per_px).unwrap_or(rough);
    let body = points_up_to(&tip.axis, tip.at_px);
    let metal = metal_along(&opacity, &body, mm_per_px);
    if metal < LEAST_METAL_SHARE {
        return Err(TraceError::NoFile);
    }
    let points_px = few_points(
        &resampled(&body, STEP_MM / mm_per_px, 8),
        0.4,
        0.03 / mm_per_px,
    );
    let (Some(&stop_px), Some(&tip_px)) = (points_px.first(), points_px.last()) else {
        return Err(TraceError::NoFile);
    };
    if tip.at_px * mm_per_px < LEAST_LENGTH_MM {
        return Err(TraceError::NoFile);
    }
    watch.reached(1.0)?;
    Ok(LocatedFile {
        stop_px,
        tip_px,
        points_px,
        confidence: stop.confidence.min(tip.confidence),
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}

/// The share of `line` that stands out as only metal does.
fn metal_along(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> f64 {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let reach = (px(1.5) / column_px).round() as usize;
    let axis = resampled(line, px(STEP_MM), 8);
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let half_widths_px = HALF_WIDTHS_MM.map(|h| px(h).max(1.0));
    metal_share(&ribbon, &half_widths_px, 1.5, px(0.65))
}

/// `line` moved onto the instrument's centre and smoothed.
fn centred(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> Vec<FilmPoint> {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let columns = |mm: f64| (px(mm) / column_px).round() as usize;
    let axis = resampled(line, px(STEP_MM), 8);
    let ribbon = Ribbon::new(opacity, axis, columns(1.2), column_px);
    let half_widths_px = HALF_WIDTHS_MM.map(|h| px(h).max(1.0));
    let evidence = Evidence::of(&ribbon, &half_widths_px, 1.5, RidgeKind::Bright);
    let found = evidence.best_line(&ribbon, columns(0.3), &[]);
    let wishes: Vec<Wish> = found
        .offsets_px
        .iter()
        .zip(&found.clarity)
        .enumerate()
        .map(|(row, (&offset_px, &clarity))| Wish {
            row,
            offset_px,
            weight: (clarity / 1.5).min(1.0) / px(0.06).powi(2),
        })
        .collect();
    let bend_px = px(STEP_MM).powi(2) / px(2.5);
    let change_px = bend_px * STEP_MM;
    let stiffness = Stiffness {
        bend: 0.02 / bend_px.powi(2),
        bend_change: 0.1 / change_px.powi(2),
    };
    film_points(&ribbon, &smooth_course(&ribbon, &wishes, stiffness))
}

/// Points of `line` between two lengths along it, both ends interpolated.
fn points_between(line: &[FilmPoint], from_px: f64, to_px: f64) -> Vec<FilmPoint> {
    let head = points_up_to(line, to_px);
    let mut tail: Vec<FilmPoint> = head.iter().rev().copied().collect();
    let length = arc_lengths_px(&head).last().copied().unwrap_or(0.0);
    tail = points_up_to(&tail, length - from_px);
    tail.reverse();
    tail
}

/// The first `length_px` of `line`, its end interpolated.
fn points_up_to(line: &[FilmPoint], length_px: f64) -> Vec<FilmPoint> {
    let mut kept = vec![line[0]];
    let mut done = 0.0;
    for pair in line.windows(2) {
        let step = pair[0].distance_px(pair[1]);
        if done + step >= length_px {
            let f = ((length_px - done) / step.max(1e-12)).clamp(0.0, 1.0);
            kept.push(FilmPoint::new(
                pair[0].x + f * (pair[1].x - pair[0].x),
                pair[0].y + f * (pair[1].y - pair[0].y),
            ));
            return kept;
        }
        done += step;
        kept.push(pair[1]);
    }
    kept
}

/// Share of the shank's contrast that is left where the tip ends: a cone of
/// about 75° (ISO 3630-1) fades before its end.
const TIP_LEVEL: f64 = 0.25;

/// The tip ends no further than this beyond the middle of the fall, mm.
const LONGEST_CONE_MM: f64 = 0.09;

struct Stop {
    /// Length along the line of the tooth-side face, px.
    at_px: f64,
    /// The tip lies towards the line's start.
    tip_side_is_start: bool,
    confidence: f64,
}

struct Tip {
    /// Length from the stop's face, px.
    at_px: f64,
    /// The shank, prolonged beyond the tip.
    axis: Vec<FilmPoint>,
    confidence: f64,
}

/// Where the flanks of the shank lie that tell a stop, mm from the axis.
const FLANK_MM: [f64; 2] = [0.5, 1.0];
/// Where a stop has ended but a crown has not, mm from the axis.
const OUTER_FLANK_MM: [f64; 2] = [2.2, 2.8];
/// A handle's rim lies no further than this from the stop, mm.
const HANDLE_REACH_MM: f64 = 6.0;
/// A crown's edge is a step, not a bump: how much the difference of before
/// and after counts against it.
const UNEVEN_COST: f64 = 0.3;
/// Stops may stand out less than a handle's rim: this share of the strongest.
const LIKELY_STOP: f64 = 0.7;
/// Thickness of stops, mm.
const STOP_MM: [f64; 2] = [0.6, 2.4];

/// Means of the columns between two distances from the axis, one value a row,
/// for the left and the right flank.
fn flanks(ribbon: &Ribbon, from_px: f64, to_px: f64) -> [Vec<f64>; 2] {
    let columns = ribbon.columns();
    [-1.0, 1.0].map(|side| {
        ribbon
            .values
            .chunks(columns)
            .map(|row| {
                let (mut sum, mut count) = (0.0, 0.0);
                for (column, value) in row.iter().enumerate() {
                    let t = (column as f64 - ribbon.reach as f64) * ribbon.column_px * side;
                    if (from_px..=to_px).contains(&t) {
                        sum += f64::from(*value);
                        count += 1.0;
                    }
                }
                sum / f64::max(count, 1.0)
            })
            .collect()
    })
}

/// The stop: a short stretch whose flanks are brighter, on both sides and no
/// further out than a stop is wide, than before and after it.
fn find_stop(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> Option<Stop> {
    let px = |mm: f64| mm / mm_per_px;
    let step_px = px(FINE_STEP_MM);
    let axis = resampled(line, step_px, 8);
    let column_px = px(0.05).max(1.0);
    let reach = (px(OUTER_FLANK_MM[1] + 0.1) / column_px).ceil() as usize;
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let [left, right] = flanks(&ribbon, px(FLANK_MM[0]), px(FLANK_MM[1]));
    let [outer_left, outer_right] = flanks(&ribbon, px(OUTER_FLANK_MM[0]), px(OUTER_FLANK_MM[1]));
    let sums = [&left, &right, &outer_left, &outer_right].map(|v| running_sums(v));
    let rows = left.len();
    let rows_of = |mm: f64| (mm / FINE_STEP_MM).round() as usize;
    let (beside, guard) = (rows_of(0.2), rows_of(0.08));
    // The best thickness for each first row.
    let mut bumps: Vec<Bump> = vec![Bump::default(); rows];
    for thickness in rows_of(STOP_MM[0])..=rows_of(STOP_MM[1]) {
        let end = rows.saturating_sub(thickness + beside + guard);
        let candidates = bumps.iter_mut().enumerate().take(end);
        for (first, best) in candidates.skip(beside + guard) {
            let last = first + thickness;
            let bump = |sums: &[f64]| {
                let mean = |a: usize, b: usize| (sums[b] - sums[a]) / (b - a) as f64;
                let inside = mean(first + guard, last - guard);
                let before = mean(first - guard - beside, first - guard);
                let after = mean(last + guard, last + guard + beside);
                inside - before.max(after) - UNEVEN_COST * (before - after).abs()
            };
            let [l, r, ol, or] = [&sums[0], &sums[1], &sums[2], &sums[3]].map(|s| bump(s));
            let score = l.min(r) - 0.5 * ol.max(or).max(0.0);
            if score > best.score {
                *best = Bump { score, first, last };
            }
        }
    }
    let highest = bumps
        .iter()
        .copied()
        .max_by(|a, b| a.score.total_cmp(&b.score))?;
    let tip_side_is_start = highest.first > rows - highest.last;
    let Bump {
        score: contrast,
        first,
        last,
    } = before_handle(&bumps, highest, tip_side_is_start, rows_of(HANDLE_REACH_MM));
    let both: Vec<f64> = left
        .iter()
        .zip(&right)
        .map(|(l, r)| 0.5 * (l + r))
        .collect();
    let noise = row_noise(&both).max(1e-6);
    let clear = contrast / noise;
    if clear < 6.0 || contrast < 0.004 {
        return None;
    }
    // Outward normal of the tooth-side face runs towards the tip.
    let face = if tip_side_is_start {
        edge_near(&both, first, 1.0, rows_of(0.3))
    } else {
        edge_near(&both, last, -1.0, rows_of(0.3))
    };
    let length = arc_lengths_px(&ribbon.axis);
    let at_px = length.last()? * (face / (rows - 1) as f64);
    Some(Stop {
        at_px,
        tip_side_is_start,
        confidence: clear / (clear + 8.0),
    })
}

/// A stretch whose flanks are brighter than before and after it.
#[derive(Clone, Copy, Default)]
struct Bump {
    score: f64,
    first: usize,
    last: usize,
}

/// The stop, where `highest` may be the handle's rim: the bump nearest to the
/// tip among those almost as high within `reach` rows of it.
fn before_handle(bumps: &[Bump], highest: Bump, tip_side_is_start: bool, reach: usize) -> Bump {
    let likely = |b: &&Bump| {
        let ahead = if tip_side_is_start {
            b.first < highest.first
        } else {
            b.first > highest.first
        };
        let apart = b.first.abs_diff(highest.first);
        ahead
            && b.score > LIKELY_STOP * highest.score
            && apart > highest.last - highest.first
            && apart <= reach
    };
    bumps
        .iter()
        .filter(likely)
        .max_by(|a, b| a.score.total_cmp(&b.score))
        .copied()
        .unwrap_or(highest)
}

fn running_sums(values: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    let mut sum = 0.0;
    for v in values {
        sum += v;
        sums.push(sum);
    }
    sums
}

/// Standard deviation of neighbouring rows against each other, robust.
fn row_noise(values: &[f64]) -> f64 {
    let mut steps: Vec<f64> = values
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).abs())
        .collect();
    if steps.is_empty() {
        return 0.0;
    }
    let middle = steps.len() / 2;
    let (_, &mut median, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    median / 0.6745 / 6f64.sqrt()
}

/// Sub-row place of the steepest rise (`sign` 1) or fall (−1) within `reach`
/// rows of `row`.
fn edge_near(values: &[f64], row: usize, sign: f64, reach: usize) -> f64 {
    // Slope over ±2 rows, smoothed over five.
    let slope = |i: usize| -> f64 {
        (1..=3)
            .map(|k| {
                let above = values[(i + k).min(values.len() - 1)];
                sign * (above - values[i.saturating_sub(k)]) / (2 * k) as f64
            })
            .sum()
    };
    let low = row.saturating_sub(reach).max(1);
    let high = (row + reach).min(values.len() - 2);
    let mut best = low;
    for i in low..=high {
        if slope(i) > slope(best) {
            best = i;
        }
    }
    let [a, b, c] = [best - 1, best, best + 1].map(slope);
    let bend = a - 2.0 * b + c;
    let shift = if bend < 0.0 {
        (0.5 * (a - c) / bend).clamp(-1.0, 1.0)
    } else {
        0.0
    };
    best as f64 + shift
}

/// The tip: where the contrast of the shank against its flanks has fallen to
/// a share of what it was just before; at most `back_mm` before the shank's end.
fn find_tip(opacity: &Raster, shank: &[FilmPoint], back_mm: f64, mm_per_px: f64) -> Option<Tip> {
    let px = |mm: f64| mm / mm_per_px;
    let rows_of = |mm: f64| (mm / FINE_STEP_MM).round() as usize;
    let prolonged_steps = rows_of(1.2);
    let axis: Vec<FilmPoint> = prolonged(shank, prolonged_steps, rows_of(0.6))
        .into_iter()
        .skip(prolonged_steps)
        .collect();
    let column_px = px(COLUMN_MM).max(0.5);
    let reach = (px(0.7) / column_px).ceil() as usize;
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let contrast = contrast_along(&ribbon, px(0.06).max(0.75), [px(0.22), px(0.42)]);
    let noise = row_noise(&contrast).max(1e-6);
    let rows = contrast.len();
    let smooth = |i: usize| {
        let (a, b) = (i.saturating_sub(1), (i + 2).min(rows));
        contrast[a..b].iter().sum::<f64>() / (b - a) as f64
    };
    // From the end of the tracked line back and forth: the strongest fall.
    let expected = shank.len() - 1;
    let (near, far) = (rows_of(0.15), rows_of(0.5));
    let low = expected.saturating_sub(rows_of(back_mm)).max(far);
    let high = rows.checked_sub(far + 1)?.max(low);
    let mean = |a: usize, b: usize| contrast[a..b].iter().sum::<f64>() / (b - a) as f64;
    // The strongest fall, and the completest.
    let levels = |i: usize| (mean(i - far, i - near + 1), mean(i + near, i + far));
    let fall = |i: usize| {
        let (inside, outside) = levels(i);
        let drop = (inside - outside).max(0.0);
        drop * (drop / inside.max(1e-9)).min(1.0)
    };
    let best = (low..=high).max_by(|&a, &b| fall(a).total_cmp(&fall(b)))?;
    let (inside, outside) = levels(best);
    let range = best.saturating_sub(rows_of(0.25))..(best + rows_of(0.25)).min(rows - 1);
    let crossing = |share: f64| -> Option<f64> {
        let level = outside + share * (inside - outside);
        let mut rows = range.clone();
        let i = rows.find(|&i| smooth(i) >= level && smooth(i + 1) < level)?;
        let step = (smooth(i) - smooth(i + 1)).max(1e-12);
        Some(i as f64 + (smooth(i) - level) / step)
    };
    let middle = crossing(0.5)?;
    let longest = middle + LONGEST_CONE_MM / FINE_STEP_MM;
    let end = crossing(TIP_LEVEL).map_or(longest, |end| end.min(longest));
    let step_px = arc_lengths_px(shank).last()? / (shank.len() - 1) as f64;
    let clear = (inside - outside) / noise;
    let vanishes = 1.0 - (outside / inside.max(1e-9)).clamp(0.0, 1.0);
    (clear > 3.0).then_some(Tip {
        at_px: end * step_px,
        axis: ribbon.axis,
        confidence: clear / (clear + 4.0) * vanishes,
    })
}

/// Mean within `core_px` of the axis minus the mean of both flanks, per row.
fn contrast_along(ribbon: &Ribbon, core_px: f64, flank_px: [f64; 2]) -> Vec<f64> {
    let [left, right] = flanks(ribbon, flank_px[0], flank_px[1]);
    let [core_left, core_right] = flanks(ribbon, 0.0, core_px);
    (0..left.len())
        .map(|i| 0.5 * (core_left[i] + core_right[i]) - 0.5 * (left[i] + right[i]))
        .collect()
}
