//! Presses to a path: a canal as the film reader sees it, or the middle of a
//! bright instrument or root filling.

use std::time::Instant;

use serde::Serialize;

use super::AssistError;
use super::canal_path::canal_path;
use super::doubt::calibrated;
use super::polyline::few_points;
use super::raster::{Raster, Region};
use super::reader::{FilmReading, Presses, Sign};
use super::readings::{COMMON_OVER_MM, Reading, Sought, readings};
use super::ridge::RidgeKind;
use super::ridge_path::ridge_path;
use super::scale::working_scale_mm_per_px;
use crate::case::{Canal, Followed};
use crate::film::Film;
use crate::progress::Progress;
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
    /// 0.5 the path follows its neighbourhood more than the film.
    pub confidence: Vec<f64>,
    /// How surely the whole path is right, 0..=1; of a canal the share of such
    /// paths that are.
    pub mean_confidence: f64,
    /// Where the film shows the line itself, read stretch by stretch.
    #[serde(skip)]
    pub readings: Vec<Reading>,
    /// Scale that widths were looked for with.
    #[serde(skip)]
    pub mm_per_px: f64,
    /// Wall time, ms.
    pub ms: f64,
}

impl FollowedPath {
    /// The readings as a case keeps them; `None` without any.
    pub fn followed(&self) -> Option<Followed> {
        let rounded = |px: f64| (px * 1e3).round() / 1e3;
        // No film is without noise.
        let uncertainty = |px: f64| rounded(px).max(1e-3);
        let numbers =
            |of: fn(&Reading) -> f64| self.readings.iter().map(of).map(uncertainty).collect();
        (!self.readings.is_empty()).then(|| Followed {
            points_px: self
                .readings
                .iter()
                .map(|r| FilmPoint::new(rounded(r.at.x), rounded(r.at.y)))
                .collect(),
            u_px: numbers(|r| r.u_px),
            common_u_px: numbers(|r| r.common_u_px),
            common_over_px: rounded(COMMON_OVER_MM / self.mm_per_px),
            on_instrument: if self.readings.iter().any(|r| r.metal) {
                self.readings.iter().map(|r| r.metal).collect()
            } else {
                Vec::new()
            },
            ..Followed::default()
        })
    }

    /// The path as a canal of a case.
    pub fn canal(&self, name: &str) -> Canal {
        Canal {
            name: name.to_owned(),
            trace_px: self.points_px.clone(),
            assisted: true,
            followed: self.followed(),
            ..Canal::default()
        }
    }
}

/// What the mean of a canal's confidence says: the share of such paths that lie
/// within 0.08 mm on average and 0.2 mm on 95 % of their length, by logistic
/// regression on 380 canals of tuning films.
const CANAL_SLOPE: f64 = 4.35;
const CANAL_SHIFT: f64 = -1.38;

/// The reader knows teeth. Where its path is right less often than this, it
/// sees no canal, and the film's own dark line between the presses is taken, as
/// a guess: no place of it is said to be surer than [`MOST_UNREAD`].
const LEAST_SURE: f64 = 0.02;
const MOST_UNREAD: f64 = 0.45;

/// Film looked at around the presses, mm: bends leave the straight way between
/// them by less, and the reader sees some 5 mm around a place.
const MARGIN_MM: f64 = 5.0;

/// Follows the canal (or instrument) through `clicks`.
///
/// # Errors
/// [`AssistError::Cancelled`]; fewer than two clicks, clicks off the film or on
/// one another; a pitch no film has.
pub fn follow(
    film: &Film,
    clicks: &[FilmPoint],
    options: &FollowOptions,
    progress: &Progress,
) -> Result<FollowedPath, AssistError> {
    let start = Instant::now();
    check_clicks(film, clicks)?;
    let mm_per_px = working_scale_mm_per_px(film, options.mm_per_px)?;
    progress.reached(0.0)?;
    let region = Region::around(film, clicks, MARGIN_MM / mm_per_px).ok_or(AssistError::Cost)?;
    let opacity = Raster::from_film(film, region, 0);
    let (found, mean_confidence, metal_rows) = if options.bright {
        let found = ridge_path(&opacity, clicks, RidgeKind::Bright, mm_per_px, progress)?;
        let rows = found.path_px.len();
        let mean = mean(&found.confidence);
        (found, mean, rows)
    } else {
        let presses = Presses {
            file: None,
            canal: clicks,
        };
        let reading = FilmReading::of(film, region, mm_per_px, &presses, progress)?;
        progress.reached(0.8)?;
        let mut found = canal_path(&reading, clicks, 1.0 / mm_per_px, progress)?;
        let rows = rows_of_metal(&reading, &found.path_px);
        let sure = calibrated(mean(&found.confidence), CANAL_SLOPE, CANAL_SHIFT);
        if sure < LEAST_SURE {
            let quiet = progress.reported_to(&|_, _| {});
            found = ridge_path(&opacity, clicks, RidgeKind::Dark, mm_per_px, &quiet)?;
            for clarity in &mut found.confidence {
                *clarity = clarity.min(MOST_UNREAD);
            }
        }
        let rows = rows.min(found.path_px.len());
        (found, sure, rows)
    };
    // Of the instrument to its tip, of the canal beyond it. Around the tip
    // itself a stretch would show half of each.
    let rows = found.path_px.len();
    let metal_end = match rows - metal_rows {
        0 => rows,
        _ => metal_rows.saturating_sub(ROWS_AROUND_TIP),
    };
    let canal_start = match metal_rows {
        0 => 0,
        _ => (metal_rows + ROWS_AROUND_TIP).min(rows),
    };
    let [metal, canal] = [
        (&found.path_px[..metal_end], Sought::Metal),
        (&found.path_px[canal_start..], Sought::Canal),
    ]
    .map(|(line, sought)| match line.len() {
        0 | 1 => Vec::new(),
        _ => readings(&opacity, line, mm_per_px, sought),
    });
    progress.reached(1.0)?;
    let points_px = few_points(&found.path_px, 0.4, 0.03 / mm_per_px);
    Ok(FollowedPath {
        points_px,
        path_px: found.path_px,
        confidence: found.confidence,
        mean_confidence,
        readings: [metal, canal].concat(),
        mm_per_px,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn check_clicks(film: &Film, clicks: &[FilmPoint]) -> Result<(), AssistError> {
    if clicks.len() < 2 {
        return Err(AssistError::TooFewPoints);
    }
    for (i, p) in clicks.iter().enumerate() {
        super::check_on_film(film, *p, i + 1)?;
    }
    match clicks.windows(2).position(|w| w[0].distance_px(w[1]) < 0.5) {
        Some(i) => Err(AssistError::SamePlace { index: i + 1 }),
        None => Ok(()),
    }
}

/// Rows of the path to either side of a file's tip that are not read: the
/// reader's tips lie within 0.2 mm on tuning films.
const ROWS_AROUND_TIP: usize = 2;

/// A file runs where the reader says at least this.
const ON_FILE: f64 = 0.4;

/// The first points of a path that a file covers, up to its tip: 0 where it
/// covers less than most of them.
fn rows_of_metal(reading: &FilmReading, path: &[FilmPoint]) -> usize {
    let on: Vec<bool> = path
        .iter()
        .map(|p| reading.at(Sign::File, *p) >= ON_FILE)
        .collect();
    let rows = on.iter().rposition(|on| *on).map_or(0, |last| last + 1);
    let covered = on[..rows].iter().filter(|on| **on).count();
    if 3 * covered >= 2 * rows { rows } else { 0 }
}
