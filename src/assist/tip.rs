//! Where an instrument ends.

use super::metal::{COLUMN_MM, FINE_STEP_MM, centred};
use super::polyline::{arc_lengths_px, points_up_to, prolonged, resampled};
use super::raster::Raster;
use super::ribbon::{Ribbon, flanks, row_noise};
use crate::units::FilmPoint;

/// Share of the shank's contrast that is left where the tip ends: a cone of
/// about 75° (ISO 3630-1) fades before its end.
const TIP_LEVEL: f64 = 0.25;

/// The tip ends no further than this beyond the middle of the fall, mm.
const LONGEST_CONE_MM: f64 = 0.09;

pub(super) struct Tip {
    /// Length from the stop's face, px.
    pub at_px: f64,
    /// The shank, prolonged beyond the tip.
    pub axis: Vec<FilmPoint>,
    pub confidence: f64,
}

impl Tip {
    /// The instrument's centre line up to its tip.
    pub fn body(&self) -> Vec<FilmPoint> {
        points_up_to(&self.axis, self.at_px)
    }
}

/// The tip of the instrument along `shank` (steps of [`FINE_STEP_MM`]), found
/// twice: the second time along a line that only the instrument has shaped.
pub(super) fn sharpened_tip(opacity: &Raster, shank: &[FilmPoint], mm_per_px: f64) -> Option<Tip> {
    let shank = &shank[..likely_end(opacity, shank, mm_per_px)];
    let rough = find_tip(opacity, shank, 1.0, mm_per_px)?;
    let sure_px = rough.at_px - 0.1 / mm_per_px;
    let shank = centred(opacity, &points_up_to(&rough.axis, sure_px), mm_per_px);
    let shank = resampled(&shank, FINE_STEP_MM / mm_per_px, 8);
    Some(find_tip(opacity, &shank, 0.5, mm_per_px).unwrap_or(rough))
}

/// A stretch without metal is this long, and keeps less than this share of
/// the contrast just before it.
const GAP_MM: f64 = 0.3;
const GAP_SHARE: f64 = 0.3;
/// Beyond a gap an instrument goes on for at least this long, mm: it has
/// passed behind a filling.
const LEAST_RESUMED_MM: f64 = 5.0;
/// The stretch that tells the contrast usual at its end, mm.
const USUAL_MM: f64 = 2.0;

/// The number of points of `shank` up to just beyond the gap after which only
/// short pieces follow: a tracked line can run on along the edge of a root or
/// a trabecula.
fn likely_end(opacity: &Raster, shank: &[FilmPoint], mm_per_px: f64) -> usize {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let reach = (px(0.45) / column_px).ceil() as usize;
    let ribbon = Ribbon::new(opacity, shank.to_vec(), reach, column_px);
    let contrast = contrast_along(&ribbon, px(0.06).max(0.75), [px(0.22), px(0.42)]);
    let gap = rows_of(GAP_MM);
    let mean = |a: usize, b: usize| contrast[a..b].iter().sum::<f64>() / (b - a) as f64;
    let mut end = shank.len();
    let mut resumed_from = shank.len();
    for i in (rows_of(USUAL_MM)..shank.len().saturating_sub(gap)).rev() {
        if mean(i, i + gap) < GAP_SHARE * usual_before(&contrast, i) {
            if resumed_from - i > rows_of(LEAST_RESUMED_MM) {
                break;
            }
            (end, resumed_from) = (i + gap, i);
        }
    }
    end
}

fn rows_of(mm: f64) -> usize {
    (mm / FINE_STEP_MM).round() as usize
}

/// Median of the contrast over [`USUAL_MM`] before row `i`.
fn usual_before(contrast: &[f64], i: usize) -> f64 {
    let mut before = contrast[i.saturating_sub(rows_of(USUAL_MM))..=i].to_vec();
    let middle = before.len() / 2;
    let (_, &mut usual, _) = before.select_nth_unstable_by(middle, f64::total_cmp);
    usual.max(1e-9)
}

/// The tip: where the contrast of the shank against its flanks has fallen to
/// a share of what it was just before; at most `back_mm` before the shank's end.
fn find_tip(opacity: &Raster, shank: &[FilmPoint], back_mm: f64, mm_per_px: f64) -> Option<Tip> {
    let px = |mm: f64| mm / mm_per_px;
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
    // The strongest fall, the completest, and from what is usual there.
    let levels = |i: usize| (mean(i - far, i - near + 1), mean(i + near, i + far));
    let fall = |i: usize| {
        let (inside, outside) = levels(i);
        let drop = (inside - outside).max(0.0);
        let whole = (inside / usual_before(&contrast, i - far)).clamp(0.0, 1.0);
        drop * (drop / inside.max(1e-9)).min(1.0) * whole * whole
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
