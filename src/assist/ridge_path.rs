//! The middle of a line of either kind between presses (bright: an instrument
//! or a root filling; dark: a canal) from the film alone: the cheapest way over
//! the ridge response, then its centre line.

use super::AssistError;
use super::canal_path::{CanalPath, PRESS_MM, STEP_MM, wish_at};
use super::centre::{Evidence, Stiffness, Wish, course_through, film_points};
use super::path::cheapest_path;
use super::polyline::{distance_to_polyline_px, resampled, smoothed};
use super::raster::Raster;
use super::ribbon::Ribbon;
use super::ridge::{RidgeKind, ridge_response};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// Widths looked for: bars of 0.15–0.8 mm, size 06 files to wide fillings (a
/// bar of width w answers most at σ = w/2), in steps of half an octave.
const SIGMAS_MM: [f64; 5] = [0.075, 0.115, 0.175, 0.27, 0.4];
/// The search thins the film while its cells stay below this, mm: half the
/// narrowest bar.
const SEARCH_CELL_MM: f64 = 0.055;
/// What is usual is measured this near the straight way between presses, mm:
/// half a root's width.
const USUAL_MM: f64 = 2.0;
/// Distance between the columns across, mm: a pixel of a fine film.
const COLUMN_MM: f64 = 0.025;
/// Half width of the strip across, mm: three times the widest bar.
const STRIP_MM: f64 = 2.6;
/// Contrast is averaged along by this σ, mm: lines bend less in that length.
const ALONG_MM: f64 = 0.25;
/// How far the middle may lie beside the way, mm: the search's cells miss it
/// by less.
const REACH_MM: f64 = 0.18;
/// Rows that share their pixels with a neighbour.
const SHARED_ROWS: f64 = 3.5 * ALONG_MM / STEP_MM;

/// The cheapest way over the ridge response from press to press.
fn way(
    opacity: &Raster,
    presses: &[FilmPoint],
    kind: RidgeKind,
    mm_per_px: f64,
    progress: &Progress,
) -> Result<Vec<FilmPoint>, AssistError> {
    let mut thinned: Option<Raster> = None;
    let mut cell_mm = mm_per_px;
    while 2.0 * cell_mm <= SEARCH_CELL_MM {
        cell_mm *= 2.0;
        thinned = Some(thinned.as_ref().unwrap_or(opacity).halved());
    }
    let seen = thinned.as_ref().unwrap_or(opacity);
    let sigmas_px: Vec<f64> = SIGMAS_MM
        .iter()
        .map(|s| s / mm_per_px)
        .filter(|s| *s >= 0.8 * seen.cell_px)
        .collect();
    let response = ridge_response(seen, &sigmas_px, kind, progress)?;
    let usual = strong_response(&response, presses, USUAL_MM / mm_per_px);
    let costs = response.values().iter().map(|r| {
        let share = (r / usual).powi(2);
        1.0 / (0.05 + share / (share + 0.3))
    });
    let costs = response.with_values(costs.collect());
    progress.reached(0.5)?;
    let mut points = Vec::new();
    for pair in presses.windows(2) {
        let [from, to] = [pair[0], pair[1]].map(|p| costs.cell_at(p));
        let path = cheapest_path(&costs, from, to, progress)?;
        let inner = path.cells.iter().map(|&(x, y)| costs.film_from_cell(x, y));
        points.push(pair[0]);
        points.extend(inner.skip(1).take(path.cells.len().saturating_sub(2)));
    }
    points.extend(presses.last());
    Ok(points)
}

/// What nine tenths of the responses near the straight way stay below.
fn strong_response(response: &Raster, presses: &[FilmPoint], reach_px: f64) -> f32 {
    let mut strengths = Vec::new();
    for y in (0..response.height()).step_by(2) {
        for x in (0..response.width()).step_by(2) {
            if distance_to_polyline_px(response.film_from_cell(x, y), presses) < reach_px {
                strengths.push(response.values()[y * response.width() + x]);
            }
        }
    }
    if strengths.is_empty() {
        return 1.0;
    }
    let rank = (strengths.len() - 1) * 9 / 10;
    let (_, &mut strong, _) = strengths.select_nth_unstable_by(rank, f32::total_cmp);
    strong.max(1e-9)
}

/// The middle of the line through `presses`.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn ridge_path(
    opacity: &Raster,
    presses: &[FilmPoint],
    kind: RidgeKind,
    mm_per_px: f64,
    progress: &Progress,
) -> Result<CanalPath, AssistError> {
    let px = |mm: f64| mm / mm_per_px;
    let way = way(opacity, presses, kind, mm_per_px, progress)?;
    progress.reached(0.8)?;
    let even = resampled(&way, px(STEP_MM), 8);
    let axis = resampled(&smoothed(&even, 0.4 / STEP_MM), px(STEP_MM), 8);
    let column_px = px(COLUMN_MM).max(0.5);
    let columns = |mm: f64| (px(mm) / column_px).round() as usize;
    let ribbon = Ribbon::new(opacity, axis, columns(STRIP_MM), column_px);
    let half_widths_px = SIGMAS_MM.map(|s| px(s).max(1.0));
    let along = ALONG_MM / STEP_MM;
    let evidence = Evidence::of(&ribbon, &half_widths_px, along, kind);
    let line = evidence.best_line(&ribbon, columns(REACH_MM));
    let wishes: Vec<Wish> = line
        .offsets_px
        .iter()
        .zip(&line.clarity)
        .enumerate()
        .map(|(row, (&offset_px, clarity))| Wish {
            row,
            offset_px,
            weight: ((0.25 / clarity.max(1e-3)).max(0.03) / mm_per_px).powi(-2) / SHARED_ROWS,
        })
        .collect();
    let stiffness = Stiffness::of_canals(1.0 / mm_per_px, STEP_MM);
    // The film shows the line better than a press does, unless they disagree.
    let held: Vec<Wish> = presses
        .iter()
        .map(|press| wish_at(&ribbon, *press, 0.1 * px(PRESS_MM).powi(-2)))
        .collect();
    let offsets_px = course_through(&ribbon, &wishes, &held, px(PRESS_MM), stiffness);
    Ok(CanalPath {
        path_px: film_points(&ribbon, &offsets_px),
        confidence: line.clarity.iter().map(|c| c * c / (c * c + 4.0)).collect(),
    })
}
