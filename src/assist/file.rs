//! One click on a file: its centre line, its tip and the tooth-side face of
//! its stop.

use std::time::Instant;

use serde::Serialize;

use super::AssistError;
use super::metal::{FINE_STEP_MM, STEP_MM, centred, is_metal};
use super::polyline::{arc_lengths_px, few_points, points_between, resampled};
use super::raster::{Raster, Region};
use super::scale::working_scale_mm_per_px;
use super::stop::find_stop;
use super::tip::sharpened_tip;
use super::tracker::{Tracker, direction_at};
use crate::film::Film;
use crate::progress::Progress;
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
    /// Where the file leaves the tooth-side face of its stop; absent where no
    /// stop shows.
    pub stop_px: Option<FilmPoint>,
    /// Its tip.
    pub tip_px: FilmPoint,
    /// Few points from stop (or from where the file comes into view) to tip
    /// whose drawn curve follows the file.
    pub points_px: Vec<FilmPoint>,
    /// 0..=1; below 0.5 the places should be checked with care.
    pub confidence: f64,
    /// 0..=1; 0 where no stop shows.
    pub stop_confidence: f64,
    /// Wall time, ms.
    pub ms: f64,
}

/// Shortest distance from stop to tip that is believed, mm.
const LEAST_LENGTH_MM: f64 = 8.0;

/// Finds the file that runs within about half a millimetre of `near`.
///
/// # Errors
/// [`AssistError::NoFile`] when no instrument runs there;
/// [`AssistError::Cancelled`]; a click off the film; a pitch no film has.
pub fn locate_file(
    film: &Film,
    near: FilmPoint,
    options: &LocateOptions,
    progress: &Progress,
) -> Result<LocatedFile, AssistError> {
    let start = Instant::now();
    super::check_on_film(film, near, 1)?;
    let mm_per_px = working_scale_mm_per_px(film, options.mm_per_px)?;
    progress.reached(0.0)?;
    let opacity = Raster::from_film(film, Region::whole(film), 0);
    progress.reached(0.1)?;

    let first = direction_at(&opacity, near, mm_per_px).ok_or(AssistError::NoFile)?;
    let tracker = Tracker::new(&opacity, mm_per_px);
    let mut line = tracker.track(first.reversed(), progress)?;
    line.reverse();
    line.push(first.place);
    line.extend(tracker.track(first, progress)?);
    progress.reached(0.5)?;
    if arc_lengths_px(&line).last().copied().unwrap_or(0.0) * mm_per_px < LEAST_LENGTH_MM {
        return Err(AssistError::NoFile);
    }
    let line = centred(&opacity, &line, mm_per_px);
    progress.reached(0.7)?;

    let stop = find_stop(&opacity, &line, mm_per_px);
    progress.reached(0.85)?;
    let lengths = arc_lengths_px(&line);
    let total = lengths.last().copied().unwrap_or(0.0);
    // The longer part of the file lies on the tooth's side of the stop.
    // Without a stop either end may be the tip: the clearer one is.
    let candidates = match &stop {
        Some(stop) => vec![tip_part(&line, stop.at_px, total, stop.tip_side_is_start)],
        None => [false, true]
            .map(|from_start| tip_part(&line, 0.0, total, from_start))
            .to_vec(),
    };
    let tip = candidates
        .iter()
        .filter_map(|part| {
            let part = resampled(part, FINE_STEP_MM / mm_per_px, 8);
            sharpened_tip(&opacity, &part, mm_per_px)
        })
        .max_by(|a, b| a.confidence.total_cmp(&b.confidence))
        .ok_or(AssistError::NoFile)?;
    let body = tip.body();
    if !is_metal(&opacity, &body, mm_per_px) {
        return Err(AssistError::NoFile);
    }
    let points_px = few_points(
        &resampled(&body, STEP_MM / mm_per_px, 8),
        0.4,
        0.03 / mm_per_px,
    );
    let (Some(&first), Some(&tip_px)) = (points_px.first(), points_px.last()) else {
        return Err(AssistError::NoFile);
    };
    if tip.at_px * mm_per_px < LEAST_LENGTH_MM {
        return Err(AssistError::NoFile);
    }
    progress.reached(1.0)?;
    Ok(LocatedFile {
        stop_px: stop.as_ref().map(|_| first),
        tip_px,
        points_px,
        confidence: stop
            .as_ref()
            .map_or(tip.confidence, |stop| stop.confidence.min(tip.confidence)),
        stop_confidence: stop.map_or(0.0, |stop| stop.confidence),
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}

/// The part of `line` on the tooth's side of the place `at_px` along it, its
/// tip last.
fn tip_part(
    line: &[FilmPoint],
    at_px: f64,
    total_px: f64,
    tip_side_is_start: bool,
) -> Vec<FilmPoint> {
    if !tip_side_is_start {
        return points_between(line, at_px, total_px);
    }
    // Without a stop the whole line counts, whichever end is the tip.
    let to_px = if at_px > 0.0 { at_px } else { total_px };
    let mut part = points_between(line, 0.0, to_px);
    part.reverse();
    part
}
