//! One click on a file: its centre line, its tip and the tooth-side face of
//! its stop.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use serde::Serialize;

use super::metal::{FINE_STEP_MM, STEP_MM, centred, is_metal};
use super::polyline::{arc_lengths_px, few_points, points_between, resampled};
use super::raster::{Raster, Region};
use super::scale::working_scale_mm_per_px;
use super::stop::find_stop;
use super::tip::sharpened_tip;
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

/// Shortest distance from stop to tip that is believed, mm.
const LEAST_LENGTH_MM: f64 = 8.0;

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
    let tip = sharpened_tip(&opacity, &shank, mm_per_px).ok_or(TraceError::NoFile)?;
    let body = tip.body();
    if !is_metal(&opacity, &body, mm_per_px) {
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
