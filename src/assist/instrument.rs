//! The instrument that stands in a canal.

use super::AssistError;
use super::metal::{FINE_STEP_MM, STEP_MM, centred, is_metal};
use super::polyline::{arc_lengths_px, nearest_index, resampled};
use super::raster::Raster;
use super::tip::sharpened_tip;
use super::tracker::{Tracker, direction_at};
use crate::progress::Progress;
use crate::units::FilmPoint;

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
/// [`AssistError::Cancelled`].
pub(super) fn instrument_in_canal(
    opacity: &Raster,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    progress: &Progress,
) -> Result<Option<Vec<FilmPoint>>, AssistError> {
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
    line.extend(Tracker::new(opacity, mm_per_px).track(heading, progress)?);
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
