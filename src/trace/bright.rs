//! Something bright through two or more clicks: an instrument or a root
//! filling.

use super::metal::{STEP_MM, centred};
use super::path::cheapest_path;
use super::polyline::resampled;
use super::raster::{Raster, Region};
use super::ridge::{RidgeKind, ridge_response};
use super::{TraceError, Watch};
use crate::film::Film;
use crate::units::FilmPoint;

/// Half widths of files and root fillings: 0.15 mm to 1.2 mm across (a bar of
/// width w answers most at σ = w/2).
const SIGMAS_MM: [f64; 6] = [0.075, 0.115, 0.175, 0.27, 0.4, 0.6];
/// Film kept around the clicks for the search, mm: a bend of 45° over 10 mm
/// leaves its chord by 2 mm.
const MARGIN_MM: f64 = 4.5;
/// The search thins the film while its cells stay below this, mm: a third of
/// the narrowest bar.
const SEARCH_CELL_MM: f64 = 0.055;
/// The response that counts as strong: a tenth of the places beside the way
/// between the clicks exceed it.
const STRONG: f64 = 0.9;
const BESIDE_MM: f64 = 2.0;

/// The path and how clearly it shows at each of its points.
///
/// # Errors
/// [`TraceError::Cancelled`].
pub(super) fn bright_path(
    film: &Film,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    watch: &Watch,
) -> Result<(Vec<FilmPoint>, Vec<f64>), TraceError> {
    let region = Region::around(film, clicks, MARGIN_MM / mm_per_px).ok_or(TraceError::Cost)?;
    let opacity = Raster::from_film(film, region, 0);
    let mut thinned = None;
    let mut cell_mm = mm_per_px;
    while 2.0 * cell_mm <= SEARCH_CELL_MM {
        cell_mm *= 2.0;
        thinned = Some(thinned.as_ref().unwrap_or(&opacity).halved());
    }
    let thin = thinned.as_ref().unwrap_or(&opacity);
    let sigmas_px: Vec<f64> = SIGMAS_MM
        .iter()
        .map(|&s| s / mm_per_px)
        .filter(|s| *s >= 0.8 * thin.cell_px)
        .collect();
    let response = ridge_response(thin, &sigmas_px, RidgeKind::Bright, watch)?;
    watch.reached(0.4)?;
    let strong = strong_response(&response, clicks, BESIDE_MM / mm_per_px);
    let clear = |r: f32| {
        let share = (r / strong).powi(2);
        share / (share + 0.3)
    };
    let costs = response
        .values()
        .iter()
        .map(|&r| 1.0 / (0.05 + clear(r)))
        .collect();
    let costs = response.with_values(costs);
    let mut points = Vec::new();
    for pair in clicks.windows(2) {
        let [from, to] = [pair[0], pair[1]].map(|p| costs.cell_at(p));
        let path = cheapest_path(&costs, from, to, watch)?;
        let inner = path.cells.iter().map(|&(x, y)| costs.film_from_cell(x, y));
        points.push(pair[0]);
        points.extend(inner.skip(1).take(path.cells.len().saturating_sub(2)));
    }
    points.extend(clicks.last());
    watch.reached(0.7)?;
    let line = centred(&opacity, &points, mm_per_px);
    let path = resampled(&line, STEP_MM / mm_per_px, 8);
    let confidence = path
        .iter()
        .map(|p| f64::from(clear(response.sample(*p))))
        .collect();
    Ok((path, confidence))
}

/// The [`STRONG`] quantile of the response near the straight way between the
/// clicks.
fn strong_response(response: &Raster, clicks: &[FilmPoint], reach_px: f64) -> f32 {
    let mut strengths = Vec::new();
    for y in (0..response.height()).step_by(2) {
        for x in (0..response.width()).step_by(2) {
            let p = response.film_from_cell(x, y);
            if super::polyline::distance_to_polyline_px(p, clicks) < reach_px {
                strengths.push(response.values()[y * response.width() + x]);
            }
        }
    }
    if strengths.is_empty() {
        return 1.0;
    }
    let rank = ((strengths.len() - 1) as f64 * STRONG) as usize;
    let (_, &mut strong, _) = strengths.select_nth_unstable_by(rank, f32::total_cmp);
    strong.max(1e-9)
}
