//! One click on a file: its centre line, its tip and, where the film shows it,
//! the tooth-side face of its stop.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use serde::Serialize;

use super::found_files::find_files;
use super::polyline::{distance_to_polyline_px, few_points};
use super::reader::FilmReading;
use super::scale::working_scale_mm_per_px;
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
    /// Where the file leaves the tooth-side face of its stop; absent where the
    /// stop is not on the film or not sure.
    pub stop_px: Option<FilmPoint>,
    /// Its tip.
    pub tip_px: FilmPoint,
    /// Few points from the stop, or from where the file comes into view, to
    /// the tip; their drawn curve follows the file.
    pub points_px: Vec<FilmPoint>,
    /// How surely the tip lies there, 0..=1.
    pub confidence: f64,
    /// How surely the stop lies there, 0..=1; of the best candidate where
    /// `stop_px` is absent.
    pub stop_confidence: f64,
    /// Wall time, ms.
    pub ms: f64,
}

/// A click lies no farther than this from the file it means, mm.
const CLICK_REACH_MM: f64 = 0.8;

/// Finds the file that runs past `near`.
///
/// # Errors
/// [`TraceError::NoFile`] when no instrument runs there;
/// [`TraceError::Cancelled`]; a click off the film; a pitch no film has.
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
    let reading = FilmReading::of(film, mm_per_px, &watch)?;
    watch.reached(0.8)?;
    let off_px = |line: &[FilmPoint]| distance_to_polyline_px(near, line);
    let file = find_files(&reading, 1.0 / mm_per_px, &watch)?
        .into_iter()
        .filter(|file| off_px(&file.line) * mm_per_px <= CLICK_REACH_MM)
        .min_by(|a, b| off_px(&a.line).total_cmp(&off_px(&b.line)))
        .ok_or(TraceError::NoFile)?;
    let points_px = few_points(&file.line, 0.4, 0.03 / mm_per_px);
    let (Some(&first), Some(&tip_px)) = (points_px.first(), points_px.last()) else {
        return Err(TraceError::NoFile);
    };
    watch.reached(1.0)?;
    Ok(LocatedFile {
        stop_px: file.has_stop.then_some(first),
        tip_px,
        points_px,
        confidence: file.confidence,
        stop_confidence: file.stop_confidence,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}
