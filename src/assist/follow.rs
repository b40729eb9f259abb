//! Two or more clicks to a path: the cheapest way over the ridge response,
//! then the centre line on the ribbon around it.

use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use super::AssistError;
use super::centre::{Evidence, Stiffness, Wish, film_points, smooth_course};
use super::course::{
    Course, CourseWeights, DirectedClarity, likeliest_course, rows_for_whole_steps,
};
use super::instrument::instrument_in_canal;
use super::path::cheapest_path;
use super::polyline::{arc_lengths_px, few_points, nearest_index, resampled, smoothed};
use super::pull::Pull;
use super::raster::{Raster, Region};
use super::readings::{Reading, readings};
use super::ribbon::Ribbon;
use super::ridge::{RidgeKind, ridge_response, slope_response};
use super::root::{RootBand, RootSearch, find_root};
use super::scale::working_scale_mm_per_px;
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
    /// Mean of `confidence`.
    pub mean_confidence: f64,
    /// Where the film shows the line itself, read stretch by stretch.
    #[serde(skip)]
    pub readings: Vec<Reading>,
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
/// Smoothing (σ) that leaves the general course of a path, mm.
const COURSE_MM: f64 = 2.0;
/// How far from it the canal may lie, and the columns it is sought on, mm.
const DETOUR_MM: f64 = 3.0;
const DETOUR_COLUMN_MM: f64 = 0.05;
/// Clarity is averaged by this σ along each direction, mm.
const DIRECTED_MM: f64 = 0.57;
/// Log likelihood of a canal per mm of way and unit of clarity, and the
/// clarity beyond which more says little more.
const CLARITY_PER_MM: f64 = 3.2;
const FULL_CLARITY: f64 = 4.0;
/// Cost of ∫κ² ds, mm: radii about 10 mm are usual.
const TURN_MM: f64 = 15.0;
/// A canal's place in its root, in half widths from the middle (standard
/// deviation), and the way over which that is one independent fact, mm.
const ROOT_SPREAD: f64 = 0.22;
const ROOT_INDEPENDENT_MM: f64 = 1.2;
/// Half widths of roots, and the columns their sides are sought on, mm.
const ROOT_HALF_WIDTH_MM: [f64; 2] = [0.55, 3.4];
const ROOT_COLUMN_MM: f64 = 0.1;
/// Smoothing (σ) of a root's sides across and along, mm.
const ROOT_SIDE_MM: f64 = 0.22;
const ROOT_ALONG_MM: f64 = 0.39;
/// Canals of at least this clarity anchor the root's middle this closely, mm,
/// and the canal's end does; with this weight against one row's sides.
const ANCHOR_CLARITY: f64 = 2.5;
const ANCHOR_MM: f64 = 0.65;
const END_ANCHOR_MM: f64 = 0.14;
const ANCHOR_WEIGHT: f64 = 0.17;
/// Step along the path, mm.
const STEP_MM: f64 = 0.1;
/// Distance between ribbon columns, mm.
const COLUMN_MM: f64 = 0.025;
/// Half width of the ribbon, mm.
const RIBBON_MM: f64 = 2.6;
/// Clarity is averaged along the path by this σ, mm.
const ALONG_MM: f64 = 0.25;
/// How far the centre may lie beside the course, first and then, mm.
const CENTRE_REACH_MM: [f64; 2] = [0.13, 0.18];
/// A click is taken to be this good (standard deviation), mm.
const CLICK_MM: f64 = 0.15;
/// The centre line of an instrument is this good, mm.
const INSTRUMENT_MM: f64 = 0.03;
/// Where the film says nothing, the centre keeps this close to the course, mm.
const COURSE_SPREAD_MM: f64 = 0.2;

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
    let kind = if options.bright {
        RidgeKind::Bright
    } else {
        RidgeKind::Dark
    };

    progress.reached(0.0)?;
    let region = Region::around(film, clicks, MARGIN_MM / mm_per_px).ok_or(AssistError::Cost)?;
    let opacity = Raster::from_film(film, region, 0);
    let instrument = match kind {
        RidgeKind::Dark => instrument_in_canal(&opacity, clicks, mm_per_px, progress)?,
        RidgeKind::Bright => None,
    };
    progress.reached(0.2)?;
    let view = View {
        opacity,
        mm_per_px,
        kind,
        clicks,
        instrument,
    };
    let axis = view.search(progress)?;
    progress.reached(0.5)?;
    let course = view.course(&axis);
    progress.reached(0.8)?;
    let refined = view.centred(course, progress)?;
    progress.reached(1.0)?;

    let points_px = few_points(&refined.path_px, 0.4, 0.03 / mm_per_px);
    let readings = view.readings(&refined.path_px);
    let mean_confidence = refined.confidence.iter().sum::<f64>() / refined.confidence.len() as f64;
    Ok(FollowedPath {
        points_px,
        path_px: refined.path_px,
        confidence: refined.confidence,
        mean_confidence,
        readings,
        ms: start.elapsed().as_secs_f64() * 1e3,
    })
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

/// What is looked at and for.
struct View<'a> {
    /// The film around the clicks, on its own pixels.
    opacity: Raster,
    mm_per_px: f64,
    kind: RidgeKind,
    clicks: &'a [FilmPoint],
    /// Centre line of the instrument that stands in the canal.
    instrument: Option<Vec<FilmPoint>>,
}

impl View<'_> {
    fn px(&self, mm: f64) -> f64 {
        mm / self.mm_per_px
    }

    /// Places the path has to pass: the clicks, but beside an instrument its
    /// tip instead.
    fn stations(&self) -> Vec<FilmPoint> {
        let Some(body) = &self.instrument else {
            return self.clicks.to_vec();
        };
        let beyond = |click: &&FilmPoint| nearest_index(body, **click) + 1 == body.len();
        let mut stations = vec![body[body.len() - 1]];
        for &click in self.clicks.iter().filter(beyond) {
            if stations[stations.len() - 1].distance_px(click) >= 2.0 {
                stations.push(click);
            }
        }
        stations
    }

    /// The cheapest path over the ridge response from station to station, cell
    /// by cell.
    fn search(&self, progress: &Progress) -> Result<Vec<FilmPoint>, AssistError> {
        let mut points = self.instrument.clone().unwrap_or_default();
        points.pop();
        let stations = self.stations();
        if stations.len() > 1 {
            let costs = self.search_costs(progress)?;
            progress.reached(0.4)?;
            for pair in stations.windows(2) {
                let [from, to] = [pair[0], pair[1]].map(|p| costs.cell_at(p));
                let path = cheapest_path(&costs, from, to, progress)?;
                let inner = path.cells.iter().map(|&(x, y)| costs.film_from_cell(x, y));
                points.push(pair[0]);
                points.extend(inner.skip(1).take(path.cells.len().saturating_sub(2)));
            }
        }
        points.extend(stations.last());
        Ok(points)
    }

    fn search_costs(&self, progress: &Progress) -> Result<Raster, AssistError> {
        let mut thinned = None;
        let mut cell_mm = self.mm_per_px;
        while 2.0 * cell_mm <= SEARCH_CELL_MM {
            cell_mm *= 2.0;
            thinned = Some(thinned.as_ref().unwrap_or(&self.opacity).halved());
        }
        let opacity = thinned.as_ref().unwrap_or(&self.opacity);
        let sigmas_px: Vec<f64> = SIGMAS_MM
            .iter()
            .map(|&s| self.px(s))
            .filter(|s| *s >= 0.8 * opacity.cell_px)
            .collect();
        let response = ridge_response(opacity, &sigmas_px, self.kind, progress)?;
        let usual = usual_strength(&response, self.clicks, self.px(2.0), 0.9);
        let clear = |r: f32| {
            let share = (r / usual).powi(2);
            share / (share + 0.3)
        };
        let costs = match self.kind {
            RidgeKind::Bright => response
                .values()
                .iter()
                .map(|&r| 1.0 / (0.05 + clear(r)))
                .collect(),
            RidgeKind::Dark => {
                let root = root_share(opacity, self.mm_per_px, progress)?;
                let dear = |(&r, root): (&f32, f32)| {
                    let root = (1.5 * root).min(1.0);
                    (1.0 + ROOT_WEIGHT * (1.0 - root)) / (0.05 + root * clear(r))
                };
                response.values().iter().zip(root).map(dear).collect()
            }
        };
        Ok(response.with_values(costs))
    }

    /// The likeliest line within [`DETOUR_MM`] of the general course of `path`.
    fn course(&self, path: &[FilmPoint]) -> Vec<FilmPoint> {
        let even = resampled(path, self.px(STEP_MM), 8);
        let course = smoothed(&even, COURSE_MM / STEP_MM);
        let length = arc_lengths_px(&course).last().copied().unwrap_or(0.0);
        let rows = rows_for_whole_steps((length / self.px(STEP_MM)).round() as usize + 1);
        let axis = resampled(&course, length / (rows - 1) as f64, rows);
        let row_px = length / (rows - 1) as f64;
        let column_px = self.px(DETOUR_COLUMN_MM);
        let reach = (self.px(DETOUR_MM) / column_px).round() as usize;
        let ribbon = Ribbon::new(&self.opacity, axis, reach, column_px);
        let half_widths_px = SIGMAS_MM.map(|s| self.px(s));
        let along_rows = DIRECTED_MM / STEP_MM;
        let clarity = DirectedClarity::of(&ribbon, &half_widths_px, along_rows, self.kind);
        let weights = self.course_weights();
        let pulls = self.pulls(&ribbon);
        let likeliest = |root: Option<&RootBand>| {
            likeliest_course(&ribbon, &clarity, row_px, root, &pulls, &weights)
        };
        let mut found = likeliest(None);
        if self.kind == RidgeKind::Dark {
            let root = self.root_around(&ribbon, &found, &pulls);
            found = likeliest(Some(&root));
        }
        film_points(&ribbon, &found.offsets_px)
    }

    fn course_weights(&self) -> CourseWeights {
        CourseWeights {
            clarity_per_px: CLARITY_PER_MM / self.px(1.0),
            full_clarity: FULL_CLARITY,
            turn_px: TURN_MM * self.px(1.0),
            root_spread: ROOT_SPREAD,
            root_independent_px: self.px(ROOT_INDEPENDENT_MM),
        }
    }

    /// The root around the course that the canal alone suggests.
    fn root_around(&self, ribbon: &Ribbon, course: &Course, pulls: &[Pull]) -> RootBand {
        let column_px = self.px(ROOT_COLUMN_MM);
        let reach = (self.px(DETOUR_MM + ROOT_HALF_WIDTH_MM[1]) / column_px).ceil() as usize;
        let wide = Ribbon::new(&self.opacity, ribbon.axis.clone(), reach, column_px);
        let mut anchors: Vec<Pull> = course
            .offsets_px
            .iter()
            .zip(&course.clarity)
            .enumerate()
            .filter(|(_, (_, clarity))| **clarity > ANCHOR_CLARITY)
            .map(|(row, (&offset_px, _))| Pull {
                row,
                offset_px,
                sigma_px: self.px(ANCHOR_MM),
            })
            .collect();
        anchors.extend(pulls.last().map(|end| Pull {
            sigma_px: self.px(END_ANCHOR_MM),
            ..*end
        }));
        let search = RootSearch {
            half_width_px: ROOT_HALF_WIDTH_MM.map(|mm| self.px(mm)),
            reach_px: self.px(DETOUR_MM - 0.5),
            side_sigma_px: self.px(ROOT_SIDE_MM),
            along_rows: ROOT_ALONG_MM / STEP_MM,
            instrument: self.instrument.is_some(),
            anchor_weight: ANCHOR_WEIGHT,
        };
        find_root(&wide, &search, &anchors)
    }

    /// The readings along the finished path: of the instrument to its tip, of
    /// the canal beyond it.
    fn readings(&self, path: &[FilmPoint]) -> Vec<Reading> {
        let read = |line: &[FilmPoint], metal| match line.len() {
            0 | 1 => Vec::new(),
            _ => readings(&self.opacity, line, self.mm_per_px, metal),
        };
        let tip = match (&self.instrument, self.kind) {
            (_, RidgeKind::Bright) => path.len() - 1,
            (Some(body), RidgeKind::Dark) => nearest_index(path, body[body.len() - 1]),
            (None, RidgeKind::Dark) => 0,
        };
        let mut all = read(&path[..=tip], true);
        all.extend(read(&path[tip..], false));
        all
    }

    /// Where the path is known: at the clicks and along the instrument.
    fn pulls(&self, ribbon: &Ribbon) -> Vec<Pull> {
        let on = |p: FilmPoint, sigma_mm: f64| {
            let row = nearest_index(&ribbon.axis, p);
            let (middle, [nx, ny]) = (ribbon.axis[row], ribbon.across[row]);
            Pull {
                row,
                offset_px: (p.x - middle.x) * nx + (p.y - middle.y) * ny,
                sigma_px: self.px(sigma_mm),
            }
        };
        let Some(body) = &self.instrument else {
            return self.clicks.iter().map(|&p| on(p, CLICK_MM)).collect();
        };
        let mut pulls: Vec<Pull> = body.iter().map(|&p| on(p, INSTRUMENT_MM)).collect();
        pulls.extend(self.stations()[1..].iter().map(|&p| on(p, CLICK_MM)));
        pulls
    }

    /// The centre line on the ribbon around `rough`, twice, the second time
    /// around the smooth course of the first.
    fn centred(&self, rough: Vec<FilmPoint>, progress: &Progress) -> Result<Refined, AssistError> {
        let half_widths_px: Vec<f64> = SIGMAS_MM.iter().map(|&s| self.px(s).max(1.0)).collect();
        let mut path = smoothed(&resampled(&rough, self.px(STEP_MM), 8), 0.4 / STEP_MM);
        let mut confidence = Vec::new();
        for reach_mm in CENTRE_REACH_MM {
            progress.check()?;
            let axis = resampled(&path, self.px(STEP_MM), 8);
            let column_px = self.px(COLUMN_MM).max(0.5);
            let columns = |mm: f64| (self.px(mm) / column_px).round() as usize;
            let ribbon = Ribbon::new(&self.opacity, axis, columns(RIBBON_MM), column_px);
            let along_rows = ALONG_MM / STEP_MM;
            let evidence = Evidence::of(&ribbon, &half_widths_px, along_rows, self.kind);
            let pulls = self.pulls(&ribbon);
            let line = evidence.best_line(&ribbon, columns(reach_mm), &pulls);
            let known = self.instrument.as_ref().map_or(0, |body| {
                nearest_index(&ribbon.axis, body[body.len() - 1]) + 1
            });
            let kept = self.px(COURSE_SPREAD_MM).powi(-2) / shared_rows();
            let mut wishes: Vec<Wish> = Vec::new();
            for row in known..ribbon.axis.len() {
                wishes.push(Wish {
                    row,
                    offset_px: line.offsets_px[row],
                    weight: position_weight(line.clarity[row], self.mm_per_px),
                });
                wishes.push(Wish {
                    row,
                    offset_px: 0.0,
                    weight: kept,
                });
            }
            wishes.extend(pulls.iter().map(|pull| Wish {
                row: pull.row,
                offset_px: pull.offset_px,
                weight: pull.sigma_px.powi(-2),
            }));
            let offsets = smooth_course(&ribbon, &wishes, stiffness(self.mm_per_px));
            path = film_points(&ribbon, &offsets);
            confidence = line
                .clarity
                .iter()
                .enumerate()
                .map(|(row, c)| {
                    if row < known {
                        1.0
                    } else {
                        c * c / (c * c + 4.0)
                    }
                })
                .collect();
        }
        Ok(Refined {
            path_px: path,
            confidence,
        })
    }
}

/// Rows that share their pixels with a neighbour: one independent place.
fn shared_rows() -> f64 {
    3.5 * ALONG_MM / STEP_MM
}

/// How much each cell of `opacity` looks like the middle of a root, 0..=1: on
/// a bright band 2–5 mm wide the bend across outweighs the slope, whatever the
/// contrast. Keeps the path out of the periodontal space and the bone.
fn root_share(
    opacity: &Raster,
    mm_per_px: f64,
    progress: &Progress,
) -> Result<Vec<f32>, AssistError> {
    let mut thin = opacity.halved();
    while thin.cell_px * mm_per_px < ROOT_CELL_MM && thin.width().min(thin.height()) > 16 {
        thin = thin.halved();
    }
    let mut share = vec![0.0f32; opacity.values().len()];
    for sigma_mm in ROOT_SIGMAS_MM {
        let sigma_px = sigma_mm / mm_per_px;
        let bend = ridge_response(&thin, &[sigma_px], RidgeKind::Bright, progress)?;
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

/// 1/variance (px⁻²) of a ridge place of this clarity.
fn position_weight(clarity: f64, mm_per_px: f64) -> f64 {
    if clarity < 1.0 {
        return 0.0;
    }
    let sigma_px = (0.25 / clarity).max(0.03) / mm_per_px;
    1.0 / (sigma_px * sigma_px * shared_rows())
}

/// Bending that canals show: radii about 10 mm, changing over 2 mm.
fn stiffness(mm_per_px: f64) -> Stiffness {
    let px = |mm: f64| mm / mm_per_px;
    let bend_px = px(STEP_MM).powi(2) / px(4.5);
    let bend_change_px = bend_px * STEP_MM / 1.0;
    let independent = STEP_MM / 2.0;
    Stiffness {
        bend: 0.3 * independent / (bend_px * bend_px),
        bend_change: independent / (bend_change_px * bend_change_px),
    }
}
