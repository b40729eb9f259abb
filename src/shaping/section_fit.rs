//! The two edges of a canal in one section across it.
//!
//! A section is the mean of a few rows across the line. A canal between two
//! backgrounds, each of them and the canal as uneven as a slope, blurred alike
//! on both sides, is fitted to it by least squares.

use kurbo::Point;
use nalgebra::{SMatrix, SVector};
use statrs::function::erf::erf;

use crate::film::Film;
use crate::geometry::{DrawnCurve, right_of};
use crate::statistics::quantile;

/// Rows averaged into one section, px along the line: edges do not move
/// within it, and neighbouring sections share none.
pub const ROWS_PX: f64 = 5.0;

/// An edge whose step is below this many standard deviations of the rows is not
/// seen: Rose's criterion (MEM).
const LEAST_CONTRAST: f64 = 5.0;

/// Edges that the noise alone leaves open by more are not seen, px.
const MOST_NOISE_PX: f64 = 3.0;

/// Grey from here up, as a share of the greatest possible, is clipped: what is
/// stored with loss comes back a little below.
const CLIPPED: f64 = 0.97;

/// What the dye and the light may change by over the canal's width and over a
/// background's, as a share of the contrast (one standard deviation, our own
/// limits: the slopes are fitted, but a narrow canal cannot tell its own).
const SLOPE_IN_CANAL: f64 = 0.15;
const SLOPE_BESIDE: f64 = 0.3;

/// Both edges of one section.
#[derive(Clone, Debug)]
pub struct Edges {
    /// Offsets from the line, left and right, px, right positive.
    pub at: [f64; 2],
    /// Standard deviation of the blur, px.
    pub blur: f64,
    /// Its standard uncertainty where it was fitted, else 0.
    pub u_blur: f64,
    /// Step of grey at each edge.
    pub contrast: [f64; 2],
    /// px that each edge moves by for one px of blur.
    pub by_blur: [f64; 2],
    /// px that each edge moves by for the grey of each value.
    pub gains: [Vec<f64>; 2],
    /// Offset of each value from the line, px.
    pub offsets: Vec<f64>,
    /// What the fit leaves of each value, grey; NaN where it was not used.
    pub residuals: Vec<f64>,
}

impl Edges {
    /// The smaller step of grey of both edges.
    pub fn least_contrast(&self) -> f64 {
        self.contrast[0].min(self.contrast[1])
    }
}

/// Mean grey across the line, a value per px.
pub struct Profile {
    /// Offset of each value.
    offsets: Vec<f64>,
    values: Vec<f64>,
    /// Too bright or too dark for the film at any of the rows: the true grey may
    /// be anything beyond.
    clipped: Vec<bool>,
    /// Standard deviation of one mean value from the scatter of its rows.
    noise: f64,
}

/// Places of the parameters: grey beside (left, right) and in the canal, both
/// edges, the blur, the slopes of the three greys.
const LEFT: usize = 0;
const CANAL: usize = 1;
const RIGHT: usize = 2;
const FROM: usize = 3;
const TO: usize = 4;
const BLUR: usize = 5;
const SLOPES: usize = 6;
const PARAMETERS: usize = 9;
type Vector = SVector<f64, PARAMETERS>;
type Matrix = SMatrix<f64, PARAMETERS, PARAMETERS>;

/// Blurs that are possible, px.
const BLURS_PX: std::ops::Range<f64> = 0.3..8.0;

impl Profile {
    /// The section `at` px along the line, `reach` px to each side.
    pub fn read(film: &Film, line: &DrawnCurve, at: f64, reach: f64) -> Self {
        let rows = ROWS_PX as usize;
        let half = reach.floor() as i32;
        let offsets: Vec<f64> = (-half..=half).map(f64::from).collect();
        let poses: Vec<_> = (0..rows)
            .map(|r| {
                let along = at + r as f64 - 0.5 * (rows as f64 - 1.0);
                let across = right_of(line.tangent_at_length(along));
                (line.point_at_length(along), across)
            })
            .collect();
        let mut values = vec![0.0; offsets.len()];
        let mut clipped = vec![false; offsets.len()];
        let most = f64::from(film.max_sample());
        let mut squares = 0.0;
        for (k, &offset) in offsets.iter().enumerate() {
            let samples = poses
                .iter()
                .map(|&(p, across)| grey(film, p + across * offset));
            let samples: Vec<f64> = samples.collect();
            let mean = samples.iter().sum::<f64>() / rows as f64;
            values[k] = mean;
            let is_clipped = |s: &f64| *s >= CLIPPED * most || *s <= 0.0;
            clipped[k] = samples.iter().any(is_clipped);
            squares += samples.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
        }
        let dof = (offsets.len() * (rows - 1)) as f64;
        Self {
            noise: (squares / dof / rows as f64).sqrt(),
            offsets,
            values,
            clipped,
        }
    }

    /// Flanks less middle: positive for a dark canal.
    pub fn sense(&self) -> f64 {
        let n = self.values.len();
        let middle = self.values[n / 2 - 1..=n / 2 + 1].iter().sum::<f64>() / 3.0;
        let flanks = self.values.iter().sum::<f64>() / n as f64;
        flanks - middle
    }

    /// Where the profile crosses half way between canal and background, going
    /// out from the canal's middle, and the greys there.
    fn start(&self, sense: f64) -> Option<Vector> {
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
        let mut start = Vector::zeros();
        (start[LEFT], start[CANAL], start[RIGHT]) = (left, canal, right);
        start[FROM] = self.offsets[at_left] + 0.5;
        start[TO] = self.offsets[at_right] - 0.5;
        Some(start)
    }

    /// The same with edges that are known nearly.
    fn start_at(&self, sense: f64, [from, to]: [f64; 2]) -> Option<Vector> {
        let mean = |range: std::ops::Range<f64>| {
            let inside = self.offsets.iter().zip(&self.values);
            let values = inside
                .filter(|(x, _)| range.contains(x))
                .map(|(_, v)| sense * v);
            let values: Vec<f64> = values.collect();
            (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
        };
        let third = (to - from) / 3.0;
        let mut start = Vector::zeros();
        start[LEFT] = mean(from - 8.0..from - 3.0)?;
        start[CANAL] = mean(from + third - 0.5..to - third + 0.5)?;
        start[RIGHT] = mean(to + 3.0..to + 8.0)?;
        (start[FROM], start[TO]) = (from, to);
        Some(start)
    }

    /// The edges where the section shows both: near those given, with the blur
    /// given, where they are.
    pub fn fit(&self, sense: f64, near: Option<[f64; 2]>, blur: Option<f64>) -> Option<Edges> {
        let mut at = match near {
            Some(near) => self.start_at(sense, near)?,
            None => self.start(sense)?,
        };
        at[BLUR] = blur.unwrap_or(1.2);
        let contrast = (at[LEFT] - at[CANAL]).min(at[RIGHT] - at[CANAL]);
        if contrast < LEAST_CONTRAST * self.noise {
            return None;
        }
        // Only what surrounds the canal, so that no other line is fitted.
        let width = at[TO] - at[FROM];
        let margin = (0.75 * width).clamp(6.0, 25.0).max(4.0 * at[BLUR] + 3.0);
        let window = at[FROM] - margin..=at[TO] + margin;
        let inside = self.offsets.iter().zip(&self.values).zip(&self.clipped);
        let data: Vec<Value> = inside
            .filter(|((x, _), _)| window.contains(*x))
            .map(|((&offset, &value), &is_clipped)| Value {
                offset,
                grey: sense * value,
                is_clipped,
            })
            .collect();
        if data.iter().filter(|value| !value.is_clipped).count() < PARAMETERS + 4 {
            return None;
        }
        let noise = self.noise.max(1e-6 * contrast);
        let per_px = [
            SLOPE_BESIDE * contrast / margin,
            SLOPE_IN_CANAL * contrast / width.max(1.0),
            SLOPE_BESIDE * contrast / margin,
        ];
        let problem = Problem {
            data: &data,
            known_blur: blur.is_some(),
            slope_weights: per_px.map(|sd| (noise / sd).powi(2)),
        };
        let solved = problem.solve(at)?;
        self.judged(&problem, &solved)
    }

    fn judged(&self, problem: &Problem, solved: &Solved) -> Option<Edges> {
        let at = &solved.at;
        let inverse = solved.normal.try_inverse()?;
        let free = (problem.used().count() - PARAMETERS) as f64;
        let variance = (solved.squares / free).max(self.noise * self.noise);
        let u = |k: usize| (inverse[(k, k)] * variance).sqrt();
        let [left, right] = [at[FROM], at[TO]];
        // The line must run within the canal or close beside it.
        let is_own = left < 0.5 * (right - left) && right > -0.5 * (right - left);
        let contrast = [at[LEFT] - at[CANAL], at[RIGHT] - at[CANAL]];
        let clear = contrast.iter().all(|c| *c > LEAST_CONTRAST * self.noise);
        let plausible = clear && u(FROM).max(u(TO)) < MOST_NOISE_PX;
        if !(is_own && plausible) {
            return None;
        }
        let mut gains = [FROM, TO].map(|_| Vec::with_capacity(problem.data.len()));
        let mut by_blur = [0.0; 2];
        let mut residuals = Vec::with_capacity(problem.data.len());
        for value in problem.data {
            let (model, mut row) = model_at(at, value.offset);
            if value.is_clipped {
                residuals.push(f64::NAN);
                gains.iter_mut().for_each(|of_side| of_side.push(0.0));
                continue;
            }
            let slope_by_blur = row[BLUR];
            if problem.known_blur {
                row[BLUR] = 0.0;
            }
            residuals.push(value.grey - model);
            let moved = inverse * row;
            for (side, k) in [FROM, TO].into_iter().enumerate() {
                gains[side].push(moved[k]);
                by_blur[side] -= moved[k] * slope_by_blur;
            }
        }
        Some(Edges {
            at: [left, right],
            blur: at[BLUR],
            u_blur: if problem.known_blur { 0.0 } else { u(BLUR) },
            contrast,
            by_blur: if problem.known_blur {
                by_blur
            } else {
                [0.0; 2]
            },
            gains,
            offsets: problem.data.iter().map(|value| value.offset).collect(),
            residuals,
        })
    }
}

/// Grey at an offset, of a dark canal.
struct Value {
    offset: f64,
    grey: f64,
    is_clipped: bool,
}

/// What is fitted.
struct Problem<'a> {
    data: &'a [Value],
    known_blur: bool,
    /// What ties each slope to none: the noise over the slope's spread, squared.
    slope_weights: [f64; 3],
}

struct Solved {
    at: Vector,
    /// Sum of squares of what is left, without what ties the slopes.
    squares: f64,
    normal: Matrix,
}

impl Problem<'_> {
    fn used(&self) -> impl Iterator<Item = &Value> {
        self.data.iter().filter(|value| !value.is_clipped)
    }

    /// Levenberg and Marquardt's steps from a start.
    fn solve(&self, start: Vector) -> Option<Solved> {
        let mut at = start;
        let mut damping = 1e-3;
        let (mut cost, mut solved, mut gradient) = self.linearised(&at);
        for _ in 0..60 {
            let mut damped = solved.normal;
            for i in 0..PARAMETERS {
                damped[(i, i)] *= 1.0 + damping;
            }
            let tried = at + damped.cholesky()?.solve(&gradient);
            let usable = tried[TO] > tried[FROM] && BLURS_PX.contains(&tried[BLUR]);
            let outcome = usable.then(|| self.linearised(&tried));
            match outcome {
                Some(better) if better.0 < cost => {
                    let settled = cost - better.0 < 1e-9 * cost;
                    at = tried;
                    (cost, solved, gradient) = better;
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
        Some(solved)
    }

    /// Cost, normal matrix and gradient. A known blur's own direction is held.
    fn linearised(&self, at: &Vector) -> (f64, Solved, Vector) {
        let mut squares = 0.0;
        let mut normal = Matrix::zeros();
        let mut gradient = Vector::zeros();
        for value in self.used() {
            let (model, mut row) = model_at(at, value.offset);
            if self.known_blur {
                row[BLUR] = 0.0;
            }
            let residual = value.grey - model;
            squares += residual * residual;
            normal += row * row.transpose();
            gradient += row * residual;
        }
        let mut cost = squares;
        for (k, weight) in self.slope_weights.into_iter().enumerate() {
            let slope = at[SLOPES + k];
            cost += weight * slope * slope;
            normal[(SLOPES + k, SLOPES + k)] += weight;
            gradient[SLOPES + k] -= weight * slope;
        }
        if self.known_blur {
            normal[(BLUR, BLUR)] = 1.0;
        }
        let solved = Solved {
            at: *at,
            squares,
            normal,
        };
        (cost, solved, gradient)
    }
}

/// The blurred canal at an offset, and its slopes by every parameter.
fn model_at(at: &Vector, x: f64) -> (f64, Vector) {
    let cumulative = |x: f64| 0.5 * (1.0 + erf(x / 2f64.sqrt()));
    let density = |x: f64| (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let (from, to, blur) = (at[FROM], at[TO], at[BLUR]);
    let (a, b) = ((x - from) / blur, (x - to) / blur);
    let (up, down) = (cumulative(a), cumulative(b));
    let shares = [1.0 - up, up - down, down];
    // Slopes beside the canal begin at its edges, that of the canal turns about
    // its middle.
    let arms = [x - from, x - 0.5 * (from + to), x - to];
    let greys = [LEFT, CANAL, RIGHT].map(|k| at[k] + at[SLOPES + k] * arms[k]);
    let model = (0..3).map(|k| shares[k] * greys[k]).sum();
    let mut row = Vector::zeros();
    for k in 0..3 {
        row[k] = shares[k];
        row[SLOPES + k] = shares[k] * arms[k];
    }
    let by_up = (greys[CANAL] - greys[LEFT]) * density(a) / blur;
    let by_down = (greys[RIGHT] - greys[CANAL]) * density(b) / blur;
    row[FROM] = -by_up - shares[LEFT] * at[SLOPES] - 0.5 * shares[CANAL] * at[SLOPES + CANAL];
    row[TO] =
        -by_down - shares[RIGHT] * at[SLOPES + RIGHT] - 0.5 * shares[CANAL] * at[SLOPES + CANAL];
    row[BLUR] = -(by_up * a + by_down * b);
    (model, row)
}

/// Grey at a film point, bilinear; pixel centres lie at +0.5.
pub fn grey(film: &Film, p: Point) -> f64 {
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
