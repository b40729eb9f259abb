//! One click on a file: its centre line, its tip and the tooth-side face of
//! its stop.

use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use super::AssistError;
use super::doubt::SAID_UNLIKE;
use super::file_ends::{FileEvidence, FoundFile, found_file};
use super::file_line::{CLAIM_STOP, read_files};
use super::polyline::few_points;
use super::raster::Region;
use super::reader::{FilmReading, Presses};
use super::scale::working_scale_mm_per_px;
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
    /// Share of such tips that lie within 0.15 mm, 0..=1.
    pub confidence: f64,
    /// Share of such stops that are right, 0..=1; of the best candidate where
    /// none is certain enough to be named.
    pub stop_confidence: f64,
    /// What both rest on.
    #[serde(skip)]
    pub evidence: FileEvidence,
    /// Why something is absent, and what to do.
    pub warnings: Vec<AssistWarning>,
    /// Wall time, ms.
    pub ms: f64,
}

/// Something the user must hear of, with what to do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AssistWarning {
    /// Stable code.
    pub code: &'static str,
    /// Plain words.
    pub text: &'static str,
}

/// No stop, or none for certain.
const NO_STOP: AssistWarning = AssistWarning {
    code: "no_stop",
    text: "No stop is seen for certain on this file, so it gives no scale. Type the set length, and \
           take the scale from a ruler, a ball, another file or the pixel pitch.",
};

/// A tip less sure than this is a guess.
const LEAST_TIP: f64 = 0.3;
const TIP_NOT_SURE: AssistWarning = AssistWarning {
    code: "tip_not_sure",
    text: "The tip is not sure: it is the likeliest of several places. Move it to where you see \
           the file end.",
};

/// The film is unlike those that confidences were fitted to.
pub(super) const UNLIKE: AssistWarning = AssistWarning {
    code: "unlike_film",
    text: "The film is unlike those that the assistant was tried on, so it is less sure of \
           root ends and file tips here. Check every place it names.",
};

/// Every file that a press at `near` may mean, with its ends weighed.
///
/// # Errors
/// As [`locate_file`].
pub fn weighed_files(
    film: &Film,
    near: FilmPoint,
    options: &LocateOptions,
    progress: &Progress,
) -> Result<Vec<FoundFile>, AssistError> {
    super::check_on_film(film, near, 1)?;
    let mm_per_px = working_scale_mm_per_px(film, options.mm_per_px)?;
    let px_per_mm = 1.0 / mm_per_px;
    progress.reached(0.0)?;
    let region = Region::whole(film);
    let presses = Presses {
        file: Some(near),
        canal: &[],
    };
    let reading = FilmReading::of(film, region, mm_per_px, &presses, progress)?;
    progress.reached(0.7)?;
    let read = read_files(&reading, near, px_per_mm, progress)?;
    progress.reached(0.8)?;
    let found = read
        .par_iter()
        .filter_map(|read| found_file(film, &reading, read, Some(near), px_per_mm))
        .collect();
    progress.reached(1.0)?;
    Ok(found)
}

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
    let px_per_mm = 1.0 / working_scale_mm_per_px(film, options.mm_per_px)?;
    let FoundFile {
        line,
        tip_confidence: confidence,
        stop_confidence,
        evidence,
        ..
    } = weighed_files(film, near, options, progress)?
        .into_iter()
        .max_by(|a, b| a.tip_confidence.total_cmp(&b.tip_confidence))
        .ok_or(AssistError::NoFile)?;
    let points_px = few_points(&line, 0.4, 0.03 * px_per_mm);
    let (Some(&first), Some(&tip_px)) = (points_px.first(), points_px.last()) else {
        return Err(AssistError::NoFile);
    };
    let claimed = stop_confidence >= CLAIM_STOP;
    let warnings = [
        (!claimed, NO_STOP),
        (confidence < LEAST_TIP, TIP_NOT_SURE),
        (evidence.likeness < SAID_UNLIKE, UNLIKE),
    ];
    let warnings = warnings
        .into_iter()
        .filter_map(|(said, w)| said.then_some(w));
    Ok(LocatedFile {
        warnings: warnings.collect(),
        stop_px: claimed.then_some(first),
        tip_px,
        points_px,
        confidence,
        stop_confidence,
        evidence,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}
