//! The tooth-side face of the stop on an instrument's centre line.

use super::metal::FINE_STEP_MM;
use super::polyline::{arc_lengths_px, resampled};
use super::raster::Raster;
use super::ribbon::{Ribbon, flanks, row_noise, running_sums};
use crate::units::FilmPoint;

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

pub(super) struct Stop {
    /// Length along the line of the tooth-side face, px.
    pub at_px: f64,
    /// The tip lies towards the line's start.
    pub tip_side_is_start: bool,
    pub confidence: f64,
}

/// The stop: a short stretch whose flanks are brighter, on both sides and no
/// further out than a stop is wide, than before and after it.
pub(super) fn find_stop(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> Option<Stop> {
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
