//! Two or more clicks to a path: the likeliest way over what the reader says
//! of canals, or over the bright ridges of the film, then its centre line.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use serde::Serialize;

use super::bright::bright_path;
use super::polyline::{few_points, resampled, smoothed};
use super::reader::{FilmReading, Sign, Ways, drawn_to_crest};
use super::scale::working_scale_mm_per_px;
use super::{TraceError, Watch};
use crate::film::Film;
use crate::units::FilmPoint;

/// What to follow, and how large things are.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FollowOptions {
    /// Follow a bright instrument or root filling instead of a dark canal.
    pub bright: bool,
    /// mm at the detector per px, where known. It only sets the widths looked
    /// for; without it the film is taken to be about 40 mm long.
    pub mm_per_px: Option<f64>,
}

/// A suggested path.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FollowedPath {
    /// Few points, in click order, whose drawn curve stays within 0.5 px of
    /// `path_px`.
    pub points_px: Vec<FilmPoint>,
    /// The path itself at steps of about 0.1 mm.
    pub path_px: Vec<FilmPoint>,
    /// How clearly the canal shows at each point of `path_px`, 0..=1; below
    /// 0.5 the path is a guess from its neighbourhood.
    pub confidence: Vec<f64>,
    /// Mean of `confidence`.
    pub mean_confidence: f64,
    /// Wall time, ms.
    pub ms: f64,
}

/// Film read around the clicks, mm: the reader judges a place by about 8 mm
/// around it, most of it within 5 mm.
const MARGIN_MM: f64 = 5.0;
/// A way that shows nothing on this many mm between two clicks is still drawn.
const LIMIT_MM: f64 = 60.0;
/// Step along the path, mm: a cell of the reader.
const STEP_MM: f64 = 0.1;
/// Smoothing (σ) of the way over cells of 0.1 mm, mm: radii of canals are
/// seldom below 2 mm, and a Gaussian of σ moves an arc of radius r by σ²/2r,
/// 0.03 mm there.
const SMOOTH_MM: f64 = 0.35;

/// Follows the canal (or instrument) through `clicks`.
///
/// # Errors
/// [`TraceError::Cancelled`]; fewer than two clicks, clicks off the film or on
/// one another; a pitch no film has.
pub fn follow(
    film: &Film,
    clicks: &[FilmPoint],
    options: &FollowOptions,
    cancel: &AtomicBool,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<FollowedPath, TraceError> {
    let start = Instant::now();
    let watch = Watch::new(cancel, progress);
    check_clicks(film, clicks)?;
    let mm_per_px = working_scale_mm_per_px(film, options.mm_per_px)?;
    watch.reached(0.0)?;
    let (path_px, confidence) = if options.bright {
        bright_path(film, clicks, mm_per_px, &watch)?
    } else {
        canal_path(film, clicks, mm_per_px, &watch)?
    };
    watch.reached(1.0)?;
    let points_px = few_points(&path_px, 0.4, 0.03 / mm_per_px);
    let mean_confidence = confidence.iter().sum::<f64>() / confidence.len().max(1) as f64;
    Ok(FollowedPath {
        points_px,
        path_px,
        confidence,
        mean_confidence,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}

fn check_clicks(film: &Film, clicks: &[FilmPoint]) -> Result<(), TraceError> {
    if clicks.len() < 2 {
        return Err(TraceError::TooFewPoints);
    }
    for (i, p) in clicks.iter().enumerate() {
        super::check_on_film(film, *p, i + 1)?;
    }
    match clicks.windows(2).position(|w| w[0].distance_px(w[1]) < 0.5) {
        Some(i) => Err(TraceError::SamePlace { index: i + 1 }),
        None => Ok(()),
    }
}

/// The canal through `clicks` and how clearly it shows along its way.
fn canal_path(
    film: &Film,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    watch: &Watch,
) -> Result<(Vec<FilmPoint>, Vec<f64>), TraceError> {
    let reading = FilmReading::around(film, mm_per_px, clicks, MARGIN_MM, watch)?;
    watch.reached(0.7)?;
    let map = reading.map(Sign::Canal);
    let limit = (LIMIT_MM / reading.cell_mm) as f32 * Ways::DEAREST;
    let mut cells = Vec::new();
    for pair in clicks.windows(2) {
        let way = Ways::from(map, pair[0], limit, watch)?.line_to(pair[1]);
        cells.extend(way.iter().skip(usize::from(!cells.is_empty())));
    }
    // The clicks themselves stand for the cells they lie in.
    if let (Some(first), Some(&click)) = (cells.first_mut(), clicks.first()) {
        *first = click;
    }
    if let (Some(last), Some(&click)) = (cells.last_mut(), clicks.last()) {
        *last = click;
    }
    if cells.len() < 2 {
        cells = clicks.to_vec();
    }
    watch.reached(0.9)?;
    let step_px = STEP_MM / mm_per_px;
    let rough = smoothed(&resampled(&cells, step_px, 8), SMOOTH_MM / STEP_MM);
    let drawn = drawn_to_crest(map, &rough);
    let path = smoothed(&resampled(&drawn, step_px, 8), SMOOTH_MM / STEP_MM);
    let confidence = path.iter().map(|p| reading.at(Sign::Canal, *p)).collect();
    Ok((path, confidence))
}
