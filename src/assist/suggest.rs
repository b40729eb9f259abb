//! Without any click: the files, roots and canals that a film shows.

use std::time::Instant;

use serde::Serialize;

use super::AssistError;
use super::doubt::{SAID_UNLIKE, apex_confidence, spread_mm};
use super::file::{AssistWarning, UNLIKE};
use super::file_line::CLAIM_STOP;
use super::found_files::find_files;
use super::polyline::{few_points, resampled, smoothed};
use super::raster::Region;
use super::reader::{FilmReading, Peak, Presses, Sign, Ways};
use super::scale::working_scale_mm_per_px;
use crate::film::Film;
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A file that the film shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuggestedFile {
    /// Where the file leaves the tooth-side face of its stop, if that is seen.
    pub stop_px: Option<FilmPoint>,
    /// Its tip.
    pub tip_px: FilmPoint,
    /// Few points from stop (or where it enters the film) to tip.
    pub points_px: Vec<FilmPoint>,
    /// How surely the tip lies there, 0..=1.
    pub confidence: f64,
    /// How surely the stop lies there, 0..=1; of the best candidate where
    /// `stop_px` is absent.
    pub stop_confidence: f64,
}

/// A root that the film shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuggestedRoot {
    /// Its radiographic apex.
    pub apex_px: FilmPoint,
    /// Share of such places where a root ends within 0.5 mm, 0..=1.
    pub confidence: f64,
    /// How far the film's copies put it from one another, mm (root mean square
    /// from this place).
    pub spread_mm: f64,
}

/// A canal that the film shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuggestedCanal {
    /// Few points, coronal end first.
    pub points_px: Vec<FilmPoint>,
    /// 0..=1.
    pub confidence: f64,
}

/// Everything found, surest first in each list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suggestions {
    pub files: Vec<SuggestedFile>,
    pub roots: Vec<SuggestedRoot>,
    pub canals: Vec<SuggestedCanal>,
    /// What the film cannot show.
    pub warnings: Vec<AssistWarning>,
    /// Wall time, ms.
    pub ms: f64,
}

/// Less sure places are not offered: of ten such, fewer than three are right.
const LEAST_CONFIDENCE: f64 = 0.3;
/// Places of which the reader says less are no root ends.
const LEAST_APEX: f32 = 0.06;
/// Root ends less sure than this are not named: of ten such, two are right at
/// most.
const LEAST_APEX_CONFIDENCE: f64 = 0.2;
/// A canal reaches at most this far from an apex, mm, and at least that far.
const CANAL_LIMIT: f32 = 900.0;
const CANAL_PER_CELL: f32 = 2.6;
const LEAST_CANAL_MM: f64 = 4.0;
/// A canal's foramen lies no farther than this from the apex, mm (means of
/// 0.38–0.69 mm, up to about 1.5 mm).
const APEX_REACH_MM: f64 = 1.6;
const SMOOTH_MM: f64 = 0.5;
const STEP_MM: f64 = 0.1;

/// Beyond an apex the film should show at least this much bone, mm (common
/// practice, no source).
const LEAST_MARGIN_MM: f64 = 2.0;
const APEX_NEAR_EDGE: AssistWarning = AssistWarning {
    code: "apex_near_edge",
    text: "An apex lies less than 2 mm from the film's edge: what surrounds it does not show.",
};

/// A place that looks like a root's end to this much is spoken of.
const SEEN_APEX: f32 = 0.2;
const APEX_NOT_SURE: AssistWarning = AssistWarning {
    code: "apex_not_sure",
    text: "More places look like a root's end, but none of them is sure enough to be named. Place \
           the apex yourself, from the root's outline.",
};

/// Reads the whole film; a pixel is `mm_per_px` at the detector, where known.
///
/// # Errors
/// [`AssistError::Cancelled`]; a pitch no film has.
pub fn suggest(
    film: &Film,
    mm_per_px: Option<f64>,
    progress: &Progress,
) -> Result<Suggestions, AssistError> {
    let start = Instant::now();
    let mm_per_px = working_scale_mm_per_px(film, mm_per_px)?;
    let px_per_mm = 1.0 / mm_per_px;
    progress.reached(0.0)?;
    let reading = FilmReading::of(
        film,
        Region::whole(film),
        mm_per_px,
        &Presses::default(),
        progress,
    )?;
    progress.reached(0.7)?;
    let files = find_files(film, &reading, px_per_mm, progress)?
        .into_iter()
        .filter(|file| file.tip_confidence >= LEAST_CONFIDENCE)
        .filter_map(|file| {
            let points_px = few_points(&file.line, 0.4, 0.03 * px_per_mm);
            let claimed = file.stop_confidence >= CLAIM_STOP;
            Some(SuggestedFile {
                stop_px: claimed.then(|| points_px.first().copied()).flatten(),
                tip_px: points_px.last().copied()?,
                points_px,
                confidence: file.tip_confidence,
                stop_confidence: file.stop_confidence,
            })
        })
        .collect();
    progress.reached(0.85)?;
    let peaks: Vec<Peak> = reading.peaks(Sign::Apex, LEAST_APEX);
    let mut apices: Vec<(&Peak, f64)> = peaks
        .iter()
        .map(|apex| (apex, apex_confidence(&reading, apex, &peaks, px_per_mm)))
        .collect();
    apices.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut canals = Vec::new();
    for (apex, confidence) in apices.iter().take(8) {
        canals.extend(canal_to(&reading, apex, *confidence, px_per_mm, progress)?);
    }
    canals.sort_by(|a: &SuggestedCanal, b| b.confidence.total_cmp(&a.confidence));
    let edge_px = |p: FilmPoint| {
        let [width, height] = [film.width_px(), film.height_px()].map(f64::from);
        p.x.min(width - p.x).min(p.y).min(height - p.y)
    };
    let cut = |(apex, sure): &(&Peak, f64)| {
        *sure >= 0.5 && edge_px(apex.place) < LEAST_MARGIN_MM * px_per_mm
    };
    let (named, unsure): (Vec<_>, Vec<_>) = apices
        .iter()
        .partition(|(_, confidence)| *confidence >= LEAST_APEX_CONFIDENCE);
    // Where all is clear, faint places need no word.
    let seen = |(apex, _): &(&Peak, f64)| apex.value >= SEEN_APEX;
    let warnings = [
        (apices.iter().any(cut), APEX_NEAR_EDGE),
        (unsure.iter().any(seen), APEX_NOT_SURE),
        (reading.likeness < SAID_UNLIKE, UNLIKE),
    ];
    let warnings = warnings
        .into_iter()
        .filter_map(|(said, w)| said.then_some(w));
    let warnings = warnings.collect();
    let roots: Vec<SuggestedRoot> = named
        .iter()
        .map(|(apex, confidence)| SuggestedRoot {
            apex_px: apex.place,
            confidence: *confidence,
            spread_mm: spread_mm(&reading, Sign::Apex, apex.place, px_per_mm),
        })
        .collect();
    progress.reached(1.0)?;
    Ok(Suggestions {
        files,
        roots,
        canals,
        warnings,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}

/// The canal that ends at an apex: from where the film shows it best nearby,
/// as far coronally as it shows.
fn canal_to(
    reading: &FilmReading,
    apex: &Peak,
    apex_confidence: f64,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Option<SuggestedCanal>, AssistError> {
    let map = reading.map(Sign::Canal);
    let ways = Ways::from(map, apex.place, CANAL_LIMIT, progress)?;
    // The way from the apex to the canal itself shows nothing.
    let lead = (APEX_REACH_MM / reading.cell_mm) as f32 * Ways::DEAREST;
    let Some(end) = ways.farthest(0.3, CANAL_PER_CELL, lead) else {
        return Ok(None);
    };
    let mut way = ways.line_to(end);
    way.reverse();
    if way.len() < 3 {
        return Ok(None);
    }
    let line = smoothed(
        &resampled(&way, STEP_MM * px_per_mm, 8),
        SMOOTH_MM / STEP_MM,
    );
    let confidence = line
        .iter()
        .map(|p| reading.at(Sign::Canal, *p))
        .sum::<f64>()
        / line.len() as f64;
    let long = line.len() as f64 * STEP_MM >= LEAST_CANAL_MM;
    Ok(
        (long && confidence >= LEAST_CONFIDENCE).then(|| SuggestedCanal {
            points_px: few_points(&line, 0.4, 0.03 * px_per_mm),
            confidence: confidence * apex_confidence,
        }),
    )
}
