//! The centre line of an instrument.

use super::centre::{Evidence, Stiffness, Wish, film_points, smooth_course, two_sided_contrast};
use super::polyline::{arc_lengths_px, nearest_index, resampled};
use super::raster::Raster;
use super::ribbon::Ribbon;
use super::ridge::RidgeKind;
use super::tip::sharpened_tip;
use super::tracker::{Tracker, direction_at};
use super::{TraceError, Watch};
use crate::units::FilmPoint;

/// Step along an instrument, mm.
pub(super) const STEP_MM: f64 = 0.1;
/// Finer step for tip and stop, mm.
pub(super) const FINE_STEP_MM: f64 = 0.04;
/// Distance between ribbon columns, mm.
pub(super) const COLUMN_MM: f64 = 0.025;
/// On metal the bright contrast within this distance, mm, exceeds every dark
/// one there by this factor.
const BESIDE_MM: f64 = 0.65;
const METAL_OVER_DARK: f32 = 1.6;
/// Share of the shank that must stand out as only metal does.
const LEAST_METAL_SHARE: f64 = 0.65;
/// Half widths of instruments, mm.
const HALF_WIDTHS_MM: [f64; 4] = [0.07, 0.13, 0.22, 0.35];
/// An instrument that stands in a canal shows on at least this length, mm.
const LEAST_STANDING_MM: f64 = 3.0;
/// A click in the canal lies no further than this from the instrument in it, mm.
const CLICK_OFF_MM: f64 = 0.6;
/// From the tip the canal goes on within this angle (cosine).
const LEAST_AHEAD: f64 = 0.5;

/// The centre line of the instrument that stands in the canal through
/// `clicks`, from beside the first click to its tip or to beside the last
/// click; `None` when there is none, or it leaves the clicks.
///
/// # Errors
/// [`TraceError::Cancelled`].
pub(super) fn instrument_in_canal(
    opacity: &Raster,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    watch: &Watch,
) -> Result<Option<Vec<FilmPoint>>, TraceError> {
    let (Some(&start), Some(&end)) = (clicks.first(), clicks.last()) else {
        return Ok(None);
    };
    let Some(mut heading) = direction_at(opacity, start, mm_per_px) else {
        return Ok(None);
    };
    if forward(heading.direction, start, end) < 0.0 {
        heading = heading.reversed();
    }
    let mut line = vec![heading.place];
    line.extend(Tracker::new(opacity, mm_per_px).track(heading, watch)?);
    let long = |line: &[FilmPoint]| {
        arc_lengths_px(line).last().copied().unwrap_or(0.0) * mm_per_px >= LEAST_STANDING_MM
    };
    if !long(&line) {
        return Ok(None);
    }
    let fine_px = FINE_STEP_MM / mm_per_px;
    let line = resampled(&centred(opacity, &line, mm_per_px), fine_px, 8);
    let Some(tip) = sharpened_tip(opacity, &line, mm_per_px) else {
        return Ok(None);
    };
    let mut body = resampled(&tip.body(), STEP_MM / mm_per_px, 8);
    body.truncate(nearest_index(&body, end) + 1);
    let stands = long(&body)
        && !clicks.iter().any(|&click| misses(&body, click, mm_per_px))
        && is_metal(opacity, &body, mm_per_px);
    Ok(stands.then_some(body))
}

/// Whether a canal through `click` cannot hold the instrument `body`: it
/// passes beside the click, or ends before it pointing elsewhere.
fn misses(body: &[FilmPoint], click: FilmPoint, mm_per_px: f64) -> bool {
    let nearest = nearest_index(body, click);
    let off_mm = body[nearest].distance_px(click) * mm_per_px;
    if nearest + 1 < body.len() {
        return off_mm > CLICK_OFF_MM;
    }
    let (back, tip) = (body[body.len().saturating_sub(11)], body[body.len() - 1]);
    let length = back.distance_px(tip).max(1e-9);
    let direction = [(tip.x - back.x) / length, (tip.y - back.y) / length];
    off_mm > 2.0 * CLICK_OFF_MM && forward(direction, tip, click) < LEAST_AHEAD
}

/// Cosine of the angle between `direction` (unit) and the way from `a` to `b`.
fn forward(direction: [f64; 2], a: FilmPoint, b: FilmPoint) -> f64 {
    (direction[0] * (b.x - a.x) + direction[1] * (b.y - a.y)) / a.distance_px(b).max(1e-9)
}

/// Whether `line` stands out as only metal does: on most of its length the
/// bright ridge beside it exceeds every dark one there by far.
pub(super) fn is_metal(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> bool {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let columns = |mm: f64| (px(mm) / column_px) as usize;
    let (near, reach) = (columns(BESIDE_MM), columns(1.5));
    let axis = resampled(line, px(STEP_MM), 8);
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let half_widths_px = HALF_WIDTHS_MM.map(|h| px(h).max(1.0));
    let along = ribbon.smoothed_along(&ribbon.values, 1.5);
    let [dark, bright] = [RidgeKind::Dark, RidgeKind::Bright].map(|kind| {
        two_sided_contrast(&ribbon, &along, &half_widths_px, kind)
            .chunks(ribbon.columns())
            .map(|row| {
                row[reach - near..=reach + near]
                    .iter()
                    .fold(0.0, |a: f32, &b| a.max(b))
            })
            .collect::<Vec<f32>>()
    });
    let metal = dark
        .iter()
        .zip(&bright)
        .filter(|(d, b)| **b > METAL_OVER_DARK * **d)
        .count();
    metal as f64 >= LEAST_METAL_SHARE * dark.len() as f64
}

/// `line` moved onto the instrument's centre and smoothed.
pub(super) fn centred(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> Vec<FilmPoint> {
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
