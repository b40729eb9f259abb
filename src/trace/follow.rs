//! Two or more clicks to a path: the cheapest way over the ridge response,
//! then the centre line on the ribbon around it.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use super::centre::{Evidence, Pull, Stiffness, Wish, film_points, smooth_course};
use super::path::cheapest_path;
use super::polyline::{few_points, nearest_index, resampled, smoothed};
use super::raster::{Raster, Region};
use super::ribbon::Ribbon;
use super::ridge::{RidgeKind, ridge_response};
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
    /// 0.5 the path follows its neighbourhood more than the film.
    pub confidence: Vec<f64>,
    /// Mean of `confidence`.
    pub mean_confidence: f64,
    /// Wall time, ms.
    pub ms: f64,
}

/// Widths looked for, mm (a bar of width w answers most at σ = w/2).
const SIGMAS_MM: [f64; 6] = [0.075, 0.115, 0.175, 0.27, 0.4, 0.6];
/// Film kept around the clicks for the search, mm.
const MARGIN_MM: f64 = 4.0;
/// The search thins the film while its cells stay below this, mm.
const SEARCH_CELL_MM: f64 = 0.055;
/// Scales of the root as a bright band, mm, and the cells it is sought on.
const ROOT_SIGMAS_MM: [f64; 2] = [1.1, 1.7];
const ROOT_CELL_MM: f64 = 0.14;
/// How many times dearer a cell is that looks nothing like a root's middle.
const ROOT_WEIGHT: f32 = 6.0;
/// Step along the path, mm.
const STEP_MM: f64 = 0.1;
/// Distance between ribbon columns, mm.
const COLUMN_MM: f64 = 0.025;
/// Half width of the ribbon, mm.
const RIBBON_MM: f64 = 2.6;
/// Clarity is averaged along the path by this σ, mm.
const ALONG_MM: f64 = 0.25;
/// How far the centre may lie beside the searched path, mm.
const CENTRE_REACH_MM: f64 = 0.6;
/// A click is taken to be this good (standard deviation), mm.
const CLICK_MM: f64 = 0.15;

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
    let kind = if options.bright {
        RidgeKind::Bright
    } else {
        RidgeKind::Dark
    };

    watch.reached(0.0)?;
    let rough = search(film, clicks, mm_per_px, kind, &watch)?;
    watch.reached(0.6)?;
    let refined = refine(film, clicks, rough, mm_per_px, kind, &watch)?;
    watch.reached(1.0)?;

    let points_px = few_points(&refined.path_px, 0.4, 0.03 / mm_per_px);
    let mean_confidence = refined.confidence.iter().sum::<f64>() / refined.confidence.len() as f64;
    Ok(FollowedPath {
        points_px,
        path_px: refined.path_px,
        confidence: refined.confidence,
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

/// The cheapest path over the ridge response, cell by cell.
fn search(
    film: &Film,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    kind: RidgeKind,
    watch: &Watch,
) -> Result<Vec<FilmPoint>, TraceError> {
    let region = Region::around(film, clicks, MARGIN_MM / mm_per_px).ok_or(TraceError::Cost)?;
    let mut halvings = 0;
    while mm_per_px * f64::from(2u32 << halvings) <= SEARCH_CELL_MM {
        halvings += 1;
    }
    let opacity = Raster::from_film(film, region, halvings);
    let sigmas_px: Vec<f64> = SIGMAS_MM
        .iter()
        .map(|s| s / mm_per_px)
        .filter(|s| *s >= 0.8 * opacity.cell_px)
        .collect();
    let response = ridge_response(&opacity, &sigmas_px, kind, watch)?;
    watch.reached(0.3)?;

    let usual = usual_strength(&response, clicks, 2.0 / mm_per_px, 0.9);
    let mut costs: Vec<f32> = response
        .values()
        .iter()
        .map(|r| 1.0 / (0.04 + (r / usual).min(2.0)))
        .collect();
    if kind == RidgeKind::Dark {
        add_root_preference(&opacity, clicks, mm_per_px, &mut costs, watch)?;
    }
    let costs = response.with_values(costs);
    let mut points = Vec::new();
    for pair in clicks.windows(2) {
        let path = cheapest_path(
            &costs,
            costs.cell_at(pair[0]),
            costs.cell_at(pair[1]),
            watch,
        )?;
        let inner = path.cells.iter().map(|&(x, y)| costs.film_from_cell(x, y));
        points.push(pair[0]);
        points.extend(inner.skip(1).take(path.cells.len().saturating_sub(2)));
    }
    points.extend(clicks.last());
    Ok(points)
}

/// Makes cells dearer the less they look like the middle of a root: a bright
/// band 2–5 mm wide. Keeps the path out of the periodontal space and the bone.
fn add_root_preference(
    opacity: &Raster,
    clicks: &[FilmPoint],
    mm_per_px: f64,
    costs: &mut [f32],
    watch: &Watch,
) -> Result<(), TraceError> {
    let mut thin = opacity.halved();
    while thin.cell_px * mm_per_px < ROOT_CELL_MM && thin.width().min(thin.height()) > 16 {
        thin = thin.halved();
    }
    let sigmas_px = ROOT_SIGMAS_MM.map(|s| s / mm_per_px);
    let rootness = ridge_response(&thin, &sigmas_px, RidgeKind::Bright, watch)?;
    let usual = usual_strength(&rootness, clicks, 2.0 / mm_per_px, 0.75);
    let width = opacity.width();
    costs
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, costs)| {
            for (x, cost) in costs.iter_mut().enumerate() {
                let share = (rootness.sample(opacity.film_from_cell(x, y)) / usual).min(1.0);
                *cost *= 1.0 + ROOT_WEIGHT * (1.0 - share);
            }
        });
    Ok(())
}

/// A strong response for this film: the quantile within `reach_px` of the
/// straight way between the clicks.
fn usual_strength(response: &Raster, clicks: &[FilmPoint], reach_px: f64, quantile: f64) -> f32 {
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
    let rank = ((strengths.len() - 1) as f64 * quantile) as usize;
    let (_, &mut strong, _) = strengths.select_nth_unstable_by(rank, f32::total_cmp);
    strong.max(1e-9)
}

struct Refined {
    path_px: Vec<FilmPoint>,
    confidence: Vec<f64>,
}

/// The centre line on the ribbon around `rough`, twice, the second time
/// around the smooth course of the first.
fn refine(
    film: &Film,
    clicks: &[FilmPoint],
    rough: Vec<FilmPoint>,
    mm_per_px: f64,
    kind: RidgeKind,
    watch: &Watch,
) -> Result<Refined, TraceError> {
    let px = |mm: f64| mm / mm_per_px;
    let region = Region::around(film, &rough, px(RIBBON_MM + 1.0)).ok_or(TraceError::Cost)?;
    let opacity = Raster::from_film(film, region, 0);
    let half_widths_px: Vec<f64> = SIGMAS_MM.iter().map(|&s| px(s).max(1.0)).collect();
    let mut path = smoothed(&resampled(&rough, px(STEP_MM), 8), 0.4 / STEP_MM);
    let mut confidence = Vec::new();
    for reach_mm in [CENTRE_REACH_MM, 0.5 * CENTRE_REACH_MM] {
        watch.check()?;
        let axis = resampled(&path, px(STEP_MM), 8);
        let column_px = px(COLUMN_MM).max(0.5);
        let columns = |mm: f64| (px(mm) / column_px).round() as usize;
        let ribbon = Ribbon::new(&opacity, axis, columns(RIBBON_MM), column_px);
        let evidence = Evidence::of(&ribbon, &half_widths_px, ALONG_MM / STEP_MM, kind);
        let pulls: Vec<Pull> = clicks
            .iter()
            .map(|&click| {
                let row = nearest_index(&ribbon.axis, click);
                let (middle, [nx, ny]) = (ribbon.axis[row], ribbon.across[row]);
                Pull {
                    row,
                    offset_px: (click.x - middle.x) * nx + (click.y - middle.y) * ny,
                    sigma_px: px(CLICK_MM),
                }
            })
            .collect();
        let line = evidence.best_line(&ribbon, columns(reach_mm), &pulls);
        let mut wishes: Vec<Wish> = line
            .offsets_px
            .iter()
            .zip(&line.clarity)
            .enumerate()
            .map(|(row, (&offset_px, &clarity))| Wish {
                row,
                offset_px,
                weight: position_weight(clarity, mm_per_px),
            })
            .collect();
        wishes.extend(pulls.iter().map(|pull| Wish {
            row: pull.row,
            offset_px: pull.offset_px,
            weight: pull.sigma_px.powi(-2),
        }));
        let offsets = smooth_course(&ribbon, &wishes, stiffness(mm_per_px));
        path = film_points(&ribbon, &offsets);
        confidence = line.clarity.iter().map(|c| c * c / (c * c + 4.0)).collect();
    }
    Ok(Refined {
        path_px: path,
        confidence,
    })
}

/// 1/variance (px⁻²) of a ridge place of this clarity.
fn position_weight(clarity: f64, mm_per_px: f64) -> f64 {
    if clarity < 1.0 {
        return 0.0;
    }
    // Neighbouring rows share their pixels: fewer independent ones.
    let shared_rows = 3.5 * ALONG_MM / STEP_MM;
    let sigma_px = (0.25 / clarity).max(0.03) / mm_per_px;
    1.0 / (sigma_px * sigma_px * shared_rows)
}

/// Bending that canals show: radii about 10 mm, changing over 2 mm.
fn stiffness(mm_per_px: f64) -> Stiffness {
    let px = |mm: f64| mm / mm_per_px;
    let bend_px = px(STEP_MM).powi(2) / px(8.0);
    let bend_change_px = bend_px * STEP_MM / 1.0;
    let independent = STEP_MM / 2.0;
    Stiffness {
        bend: 0.3 * independent / (bend_px * bend_px),
        bend_change: independent / (bend_change_px * bend_change_px),
    }
}
