//! Two or more clicks to a path: the cheapest way over the ridge response,
//! then the centre line on the ribbon around it.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use super::centre::{Evidence, Pull, Stiffness, Wish, film_points, smooth_course};
use super::path::cheapest_path;
use super::plan::{least_turning_line, rows_for_whole_steps};
use super::polyline::{arc_lengths_px, few_points, nearest_index, resampled, smoothed};
use super::raster::{Raster, Region};
use super::ribbon::Ribbon;
use super::ridge::{RidgeKind, ridge_response, slope_response};
use super::root::{RootSearch, find_root};
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
const MARGIN_MM: f64 = 4.5;
/// The search thins the film while its cells stay below this, mm.
const SEARCH_CELL_MM: f64 = 0.055;
/// Scales of the root as a bright band, mm, and the cells it is sought on.
const ROOT_SIGMAS_MM: [f64; 2] = [1.1, 1.7];
const ROOT_CELL_MM: f64 = 0.14;
/// How many times dearer a cell is that looks nothing like a root's middle.
const ROOT_WEIGHT: f32 = 6.0;
/// An instrument stands in the canal where the brightest fine ridges exceed
/// the strong dark ones by this factor.
const METAL_RATIO: f32 = 2.2;
/// Smoothing (σ) that leaves the general course of a path, mm.
const COURSE_MM: f64 = 2.0;
/// How far from it the canal may lie, and the columns it is sought on, mm.
const DETOUR_MM: f64 = 3.0;
const DETOUR_COLUMN_MM: f64 = 0.05;
/// Half widths of roots, and the columns their sides are sought on, mm.
const ROOT_HALF_WIDTH_MM: [f64; 2] = [0.9, 3.4];
const ROOT_COLUMN_MM: f64 = 0.1;
/// Canals keep within about this share of the root's half width (σ).
const ROOT_CORE: f64 = 0.4;
/// How many times dearer a place outside the root is.
const OUTSIDE_ROOT_WEIGHT: f32 = 8.0;
/// How far from a click the canal may lie, mm.
const END_OFFSET_MM: f64 = 0.3;
/// What turning costs, mm²: ∫κ² ds times this is the way along the clearest
/// canal that costs as much.
const TURN_COST_MM2: f64 = 20.0;
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
    let (rough, metal) = search(film, clicks, mm_per_px, kind, &watch)?;
    watch.reached(0.6)?;
    let refined = refine(film, clicks, rough, mm_per_px, (kind, metal), &watch)?;
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
) -> Result<(Vec<FilmPoint>, bool), TraceError> {
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
    let clear = |r: f32| {
        let share = (r / usual).powi(2);
        share / (share + 0.3)
    };
    let mut costs: Vec<f32> = response
        .values()
        .iter()
        .map(|&r| 1.0 / (0.05 + clear(r)))
        .collect();
    let mut metal = false;
    if kind == RidgeKind::Dark {
        let root = root_share(&opacity, mm_per_px, watch)?;
        for ((cost, &r), root) in costs.iter_mut().zip(response.values()).zip(root) {
            let root = (1.5 * root).min(1.0);
            *cost = (1.0 + ROOT_WEIGHT * (1.0 - root)) / (0.05 + root * clear(r));
        }
        let fine = &sigmas_px[..sigmas_px.len().min(3)];
        let bright = ridge_response(&opacity, fine, RidgeKind::Bright, watch)?;
        let brightest = usual_strength(&bright, clicks, 2.0 / mm_per_px, 0.999);
        metal = brightest > METAL_RATIO * usual;
        if metal {
            for (cost, b) in costs.iter_mut().zip(bright.values()) {
                let share = ((b / brightest - 0.15) / 0.25).clamp(0.0, 1.0);
                *cost = cost.min(1.0 / (0.01 + 3.0 * share));
            }
        }
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
    if kind == RidgeKind::Dark {
        points = less_turning(&costs, &opacity, &points, metal, mm_per_px);
    }
    Ok((points, metal))
}

/// The cheapest line within [`DETOUR_MM`] of the general course of `path` when
/// turning costs too.
fn less_turning(
    costs: &Raster,
    opacity: &Raster,
    path: &[FilmPoint],
    instrument: bool,
    mm_per_px: f64,
) -> Vec<FilmPoint> {
    let px = |mm: f64| mm / mm_per_px;
    let even = resampled(path, px(STEP_MM), 8);
    let course = smoothed(&even, COURSE_MM / STEP_MM);
    let length = arc_lengths_px(&course).last().copied().unwrap_or(0.0);
    let rows = rows_for_whole_steps((length / px(STEP_MM)).round() as usize + 1);
    let axis = resampled(&course, length / (rows - 1) as f64, rows);
    let row_px = length / (axis.len() - 1) as f64;
    let column_px = px(DETOUR_COLUMN_MM);
    let reach = (px(DETOUR_MM) / column_px).round() as usize;
    let root_column_px = px(ROOT_COLUMN_MM);
    let root_reach = (px(DETOUR_MM + ROOT_HALF_WIDTH_MM[1]) / root_column_px).ceil() as usize;
    let root = find_root(
        &Ribbon::new(opacity, axis.clone(), root_reach, root_column_px),
        &RootSearch {
            half_width_px: ROOT_HALF_WIDTH_MM.map(px),
            reach_px: px(DETOUR_MM - 0.5),
            side_sigma_px: px(0.2),
            along_rows: 0.3 / STEP_MM,
            instrument,
        },
    );
    let mut ribbon = Ribbon::new(costs, axis, reach, column_px);
    let columns = ribbon.columns();
    for (row, values) in ribbon.values.chunks_mut(columns).enumerate() {
        let spread = ROOT_CORE * root.half_width_px[row];
        for (column, cost) in values.iter_mut().enumerate() {
            let offset = (column as f64 - reach as f64) * column_px;
            let beside = ((offset - root.middle_px[row]) / spread).powi(2);
            let outside = root.strength[row] * (1.0 - (-0.5 * beside).exp());
            *cost *= 1.0 + OUTSIDE_ROOT_WEIGHT * outside as f32;
        }
    }
    let turn_cost_px2 = TURN_COST_MM2 / mm_per_px.powi(2);
    least_turning_line(&ribbon, row_px, turn_cost_px2, px(END_OFFSET_MM))
}

/// How much each cell of `opacity` looks like the middle of a root, 0..=1: on
/// a bright band 2–5 mm wide the bend across outweighs the slope, whatever the
/// contrast. Keeps the path out of the periodontal space and the bone.
fn root_share(opacity: &Raster, mm_per_px: f64, watch: &Watch) -> Result<Vec<f32>, TraceError> {
    let mut thin = opacity.halved();
    while thin.cell_px * mm_per_px < ROOT_CELL_MM && thin.width().min(thin.height()) > 16 {
        thin = thin.halved();
    }
    let mut share = vec![0.0f32; opacity.values().len()];
    for sigma_mm in ROOT_SIGMAS_MM {
        let sigma_px = sigma_mm / mm_per_px;
        let bend = ridge_response(&thin, &[sigma_px], RidgeKind::Bright, watch)?;
        let slope = slope_response(&thin, sigma_px);
        let middle: Vec<f32> = bend
            .values()
            .iter()
            .zip(slope.values())
            .map(|(b, s)| b / (b + s + 1e-6))
            .collect();
        let middle = thin.with_values(middle);
        share
            .par_chunks_mut(opacity.width())
            .enumerate()
            .for_each(|(y, row)| {
                for (x, share) in row.iter_mut().enumerate() {
                    *share = share.max(middle.sample(opacity.film_from_cell(x, y)));
                }
            });
    }
    Ok(share)
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
    (kind, metal): (RidgeKind, bool),
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
        let along_rows = ALONG_MM / STEP_MM;
        let evidence = if kind == RidgeKind::Dark && metal {
            Evidence::of_canal(&ribbon, &half_widths_px, along_rows, px(reach_mm))
        } else {
            Evidence::of(&ribbon, &half_widths_px, along_rows, kind)
        };
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
