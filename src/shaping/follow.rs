//! Walls followed from the centre line: the two edges of the dark (or bright)
//! canal in sections across it, to a fraction of a pixel.
//!
//! Each section is the mean of a few rows across the line. A canal between two
//! backgrounds, blurred alike everywhere, is fitted to it by least squares; its
//! covariance and the section's own residuals give the edges' uncertainty.

use super::error::{FollowError, ShapingError};
use super::picture::Picture;
use crate::case::Walls;
use crate::film::Film;
use crate::geometry::{DrawnCurve, right_of};
use crate::statistics::quantile;
use crate::units::FilmPoint;
use kurbo::Point;
use nalgebra::{SMatrix, SVector};
use statrs::function::erf::erf;

/// Rows averaged into one section, px along the line: edges do not move
/// within it, and neighbouring sections share none.
const ROWS_PX: f64 = 5.0;

/// Sections reach this share of the line's length to each side: no canal is a
/// fifth as wide as it is long.
const REACH: f64 = 0.1;

/// An edge whose step is below this many standard deviations of the rows is not
/// seen: Rose's criterion (MEM).
const LEAST_CONTRAST: f64 = 5.0;

/// What edges are off by beyond noise, px: sampling and the model of the blur
/// (measured on rendered blocks, see docs/before-after.md).
const MODEL_PX: f64 = 0.15;

/// Share of the sections that must be seen.
const LEAST_SEEN: f64 = 0.6;

/// Points of a followed wall farther apart than this have nothing that was seen
/// between them, px: four sections on, three are missing.
pub(super) const LONGEST_GAP_PX: f64 = 4.0 * ROWS_PX;

/// An edge farther than this from its neighbours' is another line's, px.
const JUMP_PX: f64 = 2.0;

/// Walls as followed.
#[derive(Clone, Debug, PartialEq)]
pub struct FollowedWalls {
    /// Ready for the case.
    pub walls: Walls,
    /// Share of the sections that showed both edges.
    pub seen: f64,
    /// Standard deviation of the film's blur across the walls, px.
    pub blur_px: f64,
}

/// Follows the walls of every traced canal that has none.
///
/// # Errors
/// [`ShapingError::Follow`]: where they are not seen.
pub fn follow_walls_of(picture: &mut Picture, film: &Film) -> Result<(), ShapingError> {
    for canal in &mut picture.case.canals {
        if canal.walls.is_some() {
            continue;
        }
        let followed =
            follow_walls(film, &canal.trace_px).map_err(|error| ShapingError::Follow {
                canal: canal.name.clone(),
                film: picture.name.clone(),
                error,
            })?;
        canal.walls = Some(followed.walls);
    }
    Ok(())
}

/// Follows both walls along a canal's trace, orifice → end.
///
/// # Errors
/// [`FollowError`].
pub fn follow_walls(film: &Film, trace_px: &[FilmPoint]) -> Result<FollowedWalls, FollowError> {
    if trace_px.len() < 2 {
        return Err(FollowError::NoTrace);
    }
    let points: Vec<Point> = trace_px.iter().map(|p| Point::new(p.x, p.y)).collect();
    let line = DrawnCurve::through(&points).map_err(|_| FollowError::TooShort)?;
    let length = line.length();
    if length < 10.0 * ROWS_PX {
        return Err(FollowError::TooShort);
    }
    let reach = (REACH * length).clamp(8.0, 120.0);
    let count = (length / ROWS_PX).floor() as usize;
    let sections: Vec<Profile> = (0..count)
        .map(|i| Profile::read(film, &line, (i as f64 + 0.5) * ROWS_PX, reach))
        .collect();
    // Dark or bright, and the blur, are the same all along.
    let sense = sections.iter().map(Profile::sense).sum::<f64>().signum();
    let first: Vec<_> = sections.iter().map(|s| s.fit(sense, None)).collect();
    let mut blurs: Vec<f64> = first.iter().flatten().map(|e| e.blur).collect();
    let blur_px = quantile(&mut blurs, 0.5).ok_or(FollowError::NotSeen { seen: 0.0 })?;
    let edges: Vec<Option<Edges>> = sections
        .iter()
        .map(|s| s.fit(sense, Some(blur_px)))
        .collect();
    let kept = without_jumps(&edges);
    let seen = kept.len() as f64 / count as f64;
    if seen < LEAST_SEEN || kept.len() < 4 {
        return Err(FollowError::NotSeen { seen });
    }
    let mut u: Vec<f64> = kept.iter().map(|(_, e)| e.u).collect();
    let u = quantile(&mut u, 0.5).unwrap_or(MODEL_PX);
    let place = |at: f64, offset: f64| {
        let p = line.point_at_length(at) + right_of(line.tangent_at_length(at)) * offset;
        FilmPoint::new(p.x, p.y)
    };
    let wall = |offset: fn(&Edges) -> f64| {
        let points = kept
            .iter()
            .map(|(i, e)| place((*i as f64 + 0.5) * ROWS_PX, offset(e)));
        points.collect()
    };
    Ok(FollowedWalls {
        walls: Walls {
            left_px: wall(|e| e.left),
            right_px: wall(|e| e.right),
            u_px: Some(u.hypot(MODEL_PX)),
            ..Walls::default()
        },
        seen,
        blur_px,
    })
}

/// Sections whose edges agree with those beside them.
fn without_jumps(edges: &[Option<Edges>]) -> Vec<(usize, Edges)> {
    let middle = |i: usize, of: fn(&Edges) -> f64| {
        let near = i.saturating_sub(3)..(i + 4).min(edges.len());
        let mut values: Vec<f64> = edges[near].iter().flatten().map(of).collect();
        quantile(&mut values, 0.5).unwrap_or(f64::NAN)
    };
    let agrees = |i: usize, e: &Edges| {
        (e.left - middle(i, |e| e.left)).abs() <= JUMP_PX
            && (e.right - middle(i, |e| e.right)).abs() <= JUMP_PX
    };
    let seen = edges
        .iter()
        .enumerate()
        .filter_map(|(i, e)| Some((i, (*e)?)));
    seen.filter(|(i, e)| agrees(*i, e)).collect()
}

/// Both edges of one section: offsets from the line, px, right positive.
#[derive(Clone, Copy, Debug)]
struct Edges {
    left: f64,
    right: f64,
    blur: f64,
    /// Standard uncertainty of an edge from the film's noise.
    u: f64,
}

/// Mean grey across the line, a value per px.
struct Profile {
    /// Offset of each value.
    offsets: Vec<f64>,
    values: Vec<f64>,
    /// Standard deviation of one mean value from the scatter of its rows.
    noise: f64,
}

const PARAMETERS: usize = 6;
type Vector = SVector<f64, PARAMETERS>;

impl Profile {
    fn read(film: &Film, line: &DrawnCurve, at: f64, reach: f64) -> Self {
        let rows = ROWS_PX as usize;
        let half = reach.floor() as i32;
        let offsets: Vec<f64> = (-half..=half).map(f64::from).collect();
        let mut values = vec![0.0; offsets.len()];
        let mut squares = 0.0;
        for (k, &offset) in offsets.iter().enumerate() {
            let row = |r: usize| {
                let along = at + r as f64 - 0.5 * (rows as f64 - 1.0);
                let p =
                    line.point_at_length(along) + right_of(line.tangent_at_length(along)) * offset;
                grey(film, p)
            };
            let samples: Vec<f64> = (0..rows).map(row).collect();
            let mean = samples.iter().sum::<f64>() / rows as f64;
            values[k] = mean;
            squares += samples.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
        }
        let dof = (offsets.len() * (rows - 1)) as f64;
        Self {
            noise: (squares / dof / rows as f64).sqrt(),
            offsets,
            values,
        }
    }

    /// Flanks less middle: positive for a dark canal.
    fn sense(&self) -> f64 {
        let n = self.values.len();
        let middle = self.values[n / 2 - 1..=n / 2 + 1].iter().sum::<f64>() / 3.0;
        let flanks = self.values.iter().sum::<f64>() / n as f64;
        flanks - middle
    }

    /// Where the profile crosses half way between canal and background, going
    /// out from the canal's middle.
    fn start(&self, sense: f64) -> Option<(Vector, [f64; 3])> {
        let n = self.values.len();
        let dark = |k: usize| sense * self.values[k];
        let near = n / 2 - n / 10..=n / 2 + n / 10;
        let middle = near.min_by(|&a, &b| dark(a).total_cmp(&dark(b)))?;
        let bright = |range: std::ops::Range<usize>| {
            let mut values: Vec<f64> = range.map(dark).collect();
            quantile(&mut values, 0.8)
        };
        let (left, right) = (bright(0..middle)?, bright(middle + 1..n)?);
        let canal = dark(middle);
        let half_left = 0.5 * (left + canal);
        let half_right = 0.5 * (right + canal);
        let at_left = (0..middle).rev().find(|&k| dark(k) > half_left)?;
        let at_right = (middle + 1..n).find(|&k| dark(k) > half_right)?;
        let parameters = Vector::from([
            left,
            canal,
            right,
            self.offsets[at_left] + 0.5,
            self.offsets[at_right] - 0.5,
            1.2,
        ]);
        Some((parameters, [left - canal, right - canal, canal]))
    }

    fn fit(&self, sense: f64, blur: Option<f64>) -> Option<Edges> {
        let (mut at, steps) = self.start(sense)?;
        if steps[0].min(steps[1]) < LEAST_CONTRAST * self.noise {
            return None;
        }
        if let Some(blur) = blur {
            at[5] = blur;
        }
        // Only what surrounds the canal, so that no other line is fitted.
        let width = at[4] - at[3];
        let margin = (0.75 * width).clamp(6.0, 25.0);
        let window = at[3] - margin..=at[4] + margin;
        let data: Vec<(f64, f64)> = self
            .offsets
            .iter()
            .zip(&self.values)
            .filter(|(x, _)| window.contains(x))
            .map(|(&x, &v)| (x, sense * v))
            .collect();
        if data.len() < PARAMETERS + 4 {
            return None;
        }
        let mut damping = 1e-3;
        let (mut chi, mut normal, mut gradient) = linearised(&data, &at, blur.is_some());
        for _ in 0..40 {
            let mut damped = normal;
            for i in 0..PARAMETERS {
                damped[(i, i)] *= 1.0 + damping;
            }
            let step = damped.cholesky()?.solve(&gradient);
            let tried = at + step;
            let usable = tried[4] > tried[3] && (0.3..8.0).contains(&tried[5]);
            let outcome = usable.then(|| linearised(&data, &tried, blur.is_some()));
            match outcome {
                Some(better) if better.0 < chi => {
                    let settled = chi - better.0 < 1e-9 * chi;
                    at = tried;
                    (chi, normal, gradient) = better;
                    damping = (damping * 0.3).max(1e-9);
                    if settled {
                        break;
                    }
                }
                _ => {
                    damping *= 8.0;
                    if damping > 1e9 {
                        break;
                    }
                }
            }
        }
        let free = PARAMETERS - usize::from(blur.is_some());
        let variance = (chi / (data.len() - free) as f64).max(self.noise * self.noise);
        let covariance = normal.try_inverse()?;
        let u = (0.5 * (covariance[(3, 3)] + covariance[(4, 4)]) * variance).sqrt();
        let (left, right) = (at[3], at[4]);
        // The line must run within the canal or close beside it.
        let is_own = left < 0.5 * (right - left) && right > -0.5 * (right - left);
        let contrast = (at[0] - at[1]).min(at[2] - at[1]);
        let plausible = contrast > LEAST_CONTRAST * self.noise && u.is_finite() && u < 3.0;
        (is_own && plausible).then_some(Edges {
            left,
            right,
            blur: at[5],
            u,
        })
    }
}

/// Sum of squares, normal matrix and gradient of the blurred canal. With a
/// known blur its own direction is held.
fn linearised(
    data: &[(f64, f64)],
    at: &Vector,
    blur_known: bool,
) -> (f64, SMatrix<f64, PARAMETERS, PARAMETERS>, Vector) {
    let [left, canal, right, from, to, blur] = (*at).into();
    let mut chi = 0.0;
    let mut normal = SMatrix::zeros();
    let mut gradient = Vector::zeros();
    let cumulative = |x: f64| 0.5 * (1.0 + erf(x / 2f64.sqrt()));
    let density = |x: f64| (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    for &(x, value) in data {
        let (a, b) = ((x - from) / blur, (x - to) / blur);
        let (up, down) = (cumulative(a), cumulative(b));
        let model = left + (canal - left) * up + (right - canal) * down;
        let slope_from = (canal - left) * density(a) / blur;
        let slope_to = (right - canal) * density(b) / blur;
        let row = Vector::from([
            1.0 - up,
            up - down,
            down,
            -slope_from,
            -slope_to,
            if blur_known {
                0.0
            } else {
                -(slope_from * a + slope_to * b)
            },
        ]);
        let residual = value - model;
        chi += residual * residual;
        normal += row * row.transpose();
        gradient += row * residual;
    }
    if blur_known {
        normal[(5, 5)] = 1.0;
    }
    (chi, normal, gradient)
}

/// Grey at a film point, bilinear; pixel centres lie at +0.5.
pub(super) fn grey(film: &Film, p: Point) -> f64 {
    let clamp = |v: f64, size: u32| (v - 0.5).clamp(0.0, f64::from(size.max(1) - 1));
    let (x, y) = (clamp(p.x, film.width_px()), clamp(p.y, film.height_px()));
    let (x0, y0) = (x.floor(), y.floor());
    let (fx, fy) = (x - x0, y - y0);
    let at = |dx: u32, dy: u32| {
        let column = (x0 as u32 + dx).min(film.width_px() - 1);
        let row = (y0 as u32 + dy).min(film.height_px() - 1);
        film.sample(column, row).map_or(0.0, f64::from)
    };
    let top = at(0, 0) * (1.0 - fx) + at(1, 0) * fx;
    let bottom = at(0, 1) * (1.0 - fx) + at(1, 1) * fx;
    top * (1.0 - fy) + bottom * fy
}
