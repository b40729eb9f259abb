//! The course of a canal through presses, from what the film reader says of
//! every place: the cheapest way over its canal map, centred on the map and
//! drawn as a canal bends.

use super::AssistError;
use super::centre::{Stiffness, Wish, course_through, film_points};
use super::polyline::{nearest_index, resampled, smoothed};
use super::raster::Raster;
use super::reader::{FilmReading, Sign, Ways};
use super::ribbon::Ribbon;
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A path and how surely the canal runs at each of its points.
pub(super) struct CanalPath {
    pub path_px: Vec<FilmPoint>,
    /// 0..=1.
    pub confidence: Vec<f64>,
}

/// Step along the path, mm: a cell of the reader.
pub(super) const STEP_MM: f64 = 0.1;
/// Smoothing (σ) of the way from cell to cell before it is centred, mm: what
/// is left of the steps of 0.1 mm is then below a hundredth of a millimetre.
const SMOOTH_MM: f64 = 0.35;
/// Columns beside the path, each half a cell: the reader's line is a Gaussian
/// with σ of one cell, so 0.3 mm hold all of it.
const REACH: usize = 6;
const COLUMN_MM: f64 = 0.05;
/// Deviation of the map's centre of mass where the reader is sure, mm: median
/// error of its lines on tuning films, twice.
const CENTRE_MM: f64 = 0.06;
/// Rows that share their cells with a neighbour: the reader's filters see
/// half a millimetre at once.
const SHARED_ROWS: f64 = 5.0;
/// Where the reader says nothing, the path keeps this close to the way, mm.
const WAY_MM: f64 = 0.5;
/// A press is this good (standard deviation), mm (docs/uncertainty.md).
pub(super) const PRESS_MM: f64 = 0.15;

/// The path through `presses` (two at least).
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn canal_path(
    reading: &FilmReading,
    presses: &[FilmPoint],
    px_per_mm: f64,
    progress: &Progress,
) -> Result<CanalPath, AssistError> {
    let map = reading.map(Sign::Canal);
    let mut points = Vec::new();
    for pair in presses.windows(2) {
        let ways = Ways::from(map, pair[0], f32::INFINITY, progress)?;
        let way = ways.line_to(pair[1]);
        points.push(pair[0]);
        points.extend(way.iter().skip(1).take(way.len().saturating_sub(2)));
    }
    points.extend(presses.last());
    let anchors: Vec<(FilmPoint, f64)> = presses.iter().map(|p| (*p, PRESS_MM)).collect();
    Ok(centred_on_map(map, &points, &anchors, px_per_mm))
}

/// The wish to pass through a place.
pub(super) fn wish_at(ribbon: &Ribbon, place: FilmPoint, weight: f64) -> Wish {
    let row = nearest_index(&ribbon.axis, place);
    let (middle, [nx, ny]) = (ribbon.axis[row], ribbon.across[row]);
    Wish {
        row,
        offset_px: (place.x - middle.x) * nx + (place.y - middle.y) * ny,
        weight,
    }
}

/// The way `points` over `map` moved onto the middle of the map's line, drawn
/// through `anchors` (places with their standard deviations, mm) and bending
/// as canals do.
pub(super) fn centred_on_map(
    map: &Raster,
    points: &[FilmPoint],
    anchors: &[(FilmPoint, f64)],
    px_per_mm: f64,
) -> CanalPath {
    let step_px = STEP_MM * px_per_mm;
    let way = smoothed(&resampled(points, step_px, 8), SMOOTH_MM / STEP_MM);
    let axis = resampled(&way, step_px, 8);
    let column_px = COLUMN_MM * px_per_mm;
    let ribbon = Ribbon::new(map, axis, REACH, column_px);
    let weight_of = |sigma_mm: f64| (sigma_mm * px_per_mm).powi(-2);
    let mut wishes = Vec::new();
    let mut confidence = Vec::new();
    for (row, values) in ribbon.values.chunks(ribbon.columns()).enumerate() {
        let (mut sum, mut moment, mut top) = (0.0, 0.0, 0.0f64);
        for (column, value) in values.iter().enumerate() {
            // Squared, so that what lies beside the line counts little.
            let mass = f64::from(*value).powi(2);
            sum += mass;
            moment += mass * (column as f64 - REACH as f64) * column_px;
            top = top.max(f64::from(*value));
        }
        let mut wish = |offset_px: f64, weight: f64| {
            wishes.push(Wish {
                row,
                offset_px,
                weight: weight / SHARED_ROWS,
            });
        };
        wish(moment / sum.max(1e-9), top * top * weight_of(CENTRE_MM));
        wish(0.0, weight_of(WAY_MM));
        confidence.push(top);
    }
    let held: Vec<Wish> = anchors
        .iter()
        .map(|(place, sigma_mm)| wish_at(&ribbon, *place, weight_of(*sigma_mm)))
        .collect();
    let stiffness = Stiffness::of_canals(px_per_mm, STEP_MM);
    let offsets_px = course_through(&ribbon, &wishes, &held, PRESS_MM * px_per_mm, stiffness);
    CanalPath {
        path_px: film_points(&ribbon, &offsets_px),
        confidence,
    }
}
