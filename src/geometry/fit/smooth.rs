//! Bends of any shape: curvature as a penalised spline.
//!
//! The path is cut into [`PIECES`] equal arcs. Their turns are free between two
//! of the cuts and zero outside: a straight piece, a bend in which the
//! curvature does what the points say, a straight piece. The curvature along
//! the bend is held together by a random walk, whose stiffness the points
//! decide: every stiffness and every pair of cuts is a model of its own,
//! weighed by its marginal likelihood (Wahba G. J R Stat Soc B 1978;40:364–72:
//! a smoothing spline is the mean of such a walk given the points). Near the
//! points the path is linear in its parameters, so that a possible path is one
//! product of a matrix away from the points that it would have given.

use arrayvec::ArrayVec;
use kurbo::{Point, Vec2};

use super::FitError;
use super::noise::{Judged, NoiseGrid};
use crate::geometry::straight_arc_path::{MAX_ARCS, Piece, Pose, StraightArcPath};
use crate::geometry::{GeometryError, right_of};

/// Arcs of equal length that a smooth path is made of.
pub(super) const PIECES: usize = 24;
/// Place, heading and length.
const BASE: usize = 4;
const ALL: usize = BASE + PIECES;
/// Independent ways in which a path may differ from the smoothest one through
/// its points.
pub const SHAPE_MODES: usize = 6;
/// Standard deviation of the curvature where a bend starts, over the path's
/// length.
const FIRST_CURVATURE: f64 = 1.5;
/// The same of its slope.
const FIRST_SLOPE: f64 = 4.0;
/// Stiffest and loosest walk of the curvature and of its slope: standard
/// deviation of the change over the path's length, in powers of that length.
const WALK: [[f64; 2]; 2] = [[0.4, 40.0], [1.0, 250.0]];

type Vector = [f64; ALL];

/// A smooth path through a trace, to be moved to others near it.
#[derive(Clone, Debug)]
pub struct SmoothForm {
    first: usize,
    last: usize,
    parameters: Vector,
    /// Change of each parameter per displacement of each residual: rows of
    /// parameters.
    gain: Vec<f64>,
    /// Direction that each residual is counted along.
    normals: Vec<Vec2>,
    modes: [Vector; SHAPE_MODES],
    bends: ArrayVec<[usize; 2], MAX_ARCS>,
}

/// Pieces at which a bend may start and end.
const FIRSTS: [usize; 7] = [0, 3, 6, 9, 12, 15, 18];
const LASTS: [usize; 4] = [PIECES, PIECES - 3, PIECES - 6, PIECES - 9];
/// Stretches whose logarithm of evidence lies this much below the best are left.
const STRETCH_REACH: f64 = 8.0;

/// One smooth model in the competition.
#[derive(Clone, Debug)]
pub(super) struct SmoothEntry {
    first: usize,
    last: usize,
    walk: Walk,
    pub chi_square: f64,
    pub judged: Judged,
}

impl SmoothEntry {
    /// Its slope walks up to the apex.
    pub fn rises_to_apex(&self) -> bool {
        self.walk.slope.is_some() && self.last == PIECES
    }

    /// Kind of the model: which of curvature and slope walks, and whether it
    /// ends straight.
    pub fn class(&self) -> usize {
        4 + 4 * usize::from(self.walk.slope.is_some())
            + 2 * usize::from(self.first > 0)
            + usize::from(self.last < PIECES)
    }

    /// Too near each other to be two forms.
    pub fn is_like(&self, other: &Self) -> bool {
        self.first.abs_diff(other.first) + self.last.abs_diff(other.last) <= 2
            && self.walk.slope == other.walk.slope
            && (self.walk.stiffness / other.walk.stiffness).ln().abs() < 3.0
    }
}

/// What holds the turns of a bend together, as precisions in units of the
/// points' variance: of the first turn, of the step from it where the slope of
/// the curvature walks, and of every step of the walk.
#[derive(Clone, Copy, Debug)]
struct Walk {
    level: f64,
    /// The slope walks, not the curvature.
    slope: Option<f64>,
    stiffness: f64,
}

impl Walk {
    /// The rows whose squares are its penalty: precision and entries about the
    /// row's own place.
    fn row(&self, k: usize) -> (f64, [f64; 3]) {
        match (k, self.slope) {
            (0, _) => (self.level, [0.0, 0.0, 1.0]),
            (1, Some(slope)) => (slope, [0.0, -1.0, 1.0]),
            (_, Some(_)) => (self.stiffness, [1.0, -2.0, 1.0]),
            (_, None) => (self.stiffness, [0.0, -1.0, 1.0]),
        }
    }

    fn log_determinant(&self, count: usize) -> f64 {
        (0..count).map(|k| self.row(k).0.ln()).sum()
    }

    /// Entry of the penalty's matrix for so many turns.
    fn penalty(&self, i: usize, j: usize, count: usize) -> f64 {
        let (low, high) = (i.min(j), i.max(j));
        if high - low > 2 {
            return 0.0;
        }
        let rows = high..=(low + 2).min(count - 1);
        let of_row = |k: usize| {
            let (precision, entries) = self.row(k);
            precision * entries[2 + i - k] * entries[2 + j - k]
        };
        rows.map(of_row).sum()
    }
}

/// Residuals of a trace about one path and their derivatives.
struct Linearised {
    /// Derivatives, row by row, weighted.
    jacobian: Vec<Vector>,
    normals: Vec<Vec2>,
    weights: Vec<f64>,
    /// JᵀJ and Jᵀy, y the residuals if all parameters were zero.
    normal: Box<[Vector; ALL]>,
    right: Vector,
    /// yᵀy.
    square: f64,
}

/// Points, the weight of each in χ², and their standard deviation.
#[derive(Clone, Copy)]
pub(super) struct Trace<'a> {
    pub points: &'a [Point],
    pub weights: &'a [f64],
    pub point_sd: f64,
}

impl Trace<'_> {
    fn weight(&self, index: usize) -> f64 {
        self.weights.get(index).copied().unwrap_or(1.0)
    }
}

/// Parameters of the path nearest to `path` that is made of equal arcs.
fn parameters_of(path: &StraightArcPath) -> Vector {
    let mut row = [0.0; ALL];
    let start = path.start();
    (row[0], row[1], row[2], row[3]) = (start.x, start.y, path.heading_rad(), path.length());
    let at = |k: usize| path.heading_at_length_rad(path.length() * k as f64 / PIECES as f64);
    for k in 0..PIECES {
        row[BASE + k] = at(k + 1) - at(k);
    }
    row
}

fn poses_of(parameters: &Vector) -> [Pose; PIECES + 1] {
    let mut pose = Pose::new(Point::new(parameters[0], parameters[1]), parameters[2]);
    let step = parameters[3] / PIECES as f64;
    let mut poses = [pose; PIECES + 1];
    for k in 0..PIECES {
        pose = pose.advanced(step, parameters[BASE + k]);
        poses[k + 1] = pose;
    }
    poses
}

impl Linearised {
    fn about(parameters: &Vector, trace: &Trace<'_>) -> Self {
        let poses = poses_of(parameters);
        let start = poses[0].point;
        let step = parameters[3] / PIECES as f64;
        let middles: [Point; PIECES] =
            std::array::from_fn(|k| poses[k].point.midpoint(poses[k + 1].point));
        let count = trace.points.len() + 2;
        let mut out = Self {
            jacobian: Vec::with_capacity(count),
            normals: Vec::with_capacity(count),
            weights: Vec::with_capacity(count),
            normal: Box::new([[0.0; ALL]; ALL]),
            right: [0.0; ALL],
            square: 0.0,
        };
        let mut put =
            |normal: Vec2, foot: Point, piece: usize, part: f64, residual: f64, weight: f64| {
                let mut row = [0.0; ALL];
                row[0] = normal.x;
                row[1] = normal.y;
                row[2] = normal.dot(right_of(foot - start));
                row[3] = normal.dot(foot - start) / parameters[3];
                for k in 0..piece {
                    row[BASE + k] = normal.dot(right_of(foot - middles[k]));
                }
                if piece < PIECES {
                    let along = part * step;
                    row[BASE + piece] =
                        normal.dot(right_of(poses[piece].direction)) * 0.5 * part * along;
                }
                let fitted: f64 = row.iter().zip(parameters).map(|(j, p)| j * p).sum();
                let y = (residual + fitted) * weight;
                for entry in &mut row {
                    *entry *= weight;
                }
                for (i, a) in row.iter().enumerate() {
                    if *a != 0.0 {
                        for (entry, b) in out.normal[i][..=i].iter_mut().zip(&row) {
                            *entry += a * b;
                        }
                        out.right[i] += a * y;
                    }
                }
                out.square += y * y;
                out.jacobian.push(row);
                out.normals.push(normal);
                out.weights.push(weight);
            };
        let last = trace.points.len() - 1;
        let mut piece = 0;
        for (index, &point) in trace.points.iter().enumerate() {
            let weight = trace.weight(index).sqrt();
            let ends = if index == 0 {
                Some((start, 0))
            } else if index == last {
                Some((poses[PIECES].point, PIECES))
            } else {
                None
            };
            if let Some((end, piece)) = ends {
                for normal in [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)] {
                    put(normal, end, piece, 0.0, normal.dot(point - end), weight);
                }
                continue;
            }
            let past_start = |k: usize| (point - poses[k].point).dot(poses[k].direction) >= 0.0;
            while piece > 0 && !past_start(piece) {
                piece -= 1;
            }
            while piece + 1 < PIECES && past_start(piece + 1) {
                piece += 1;
            }
            let turn = parameters[BASE + piece];
            let curvature = turn / step;
            let side = right_of(poses[piece].direction);
            let away = point - poses[piece].point;
            let (x, y) = (away.dot(poses[piece].direction), away.dot(side));
            let along = (curvature * x).atan2(1.0 - curvature * y);
            let along = if curvature.abs() < 1e-12 {
                x
            } else {
                along / curvature
            };
            let foot = poses[piece].advanced(along, curvature * along);
            let normal = right_of(foot.direction);
            put(
                normal,
                foot.point,
                piece,
                along / step,
                normal.dot(point - foot.point),
                weight,
            );
        }
        out
    }
}

/// Lower Cholesky factor of the penalised normal matrix of a free stretch.
struct Solved {
    /// Indices of the free parameters.
    free: ArrayVec<usize, ALL>,
    factor: Box<[Vector; ALL]>,
    log_determinant: f64,
}

impl Solved {
    fn new(lin: &Linearised, first: usize, last: usize, walk: &Walk) -> Option<Self> {
        let free: ArrayVec<usize, ALL> = (0..BASE).chain(BASE + first..BASE + last).collect();
        let count = last - first;
        let n = free.len();
        let mut factor = Box::new([[0.0; ALL]; ALL]);
        let mut log_determinant = 0.0;
        for i in 0..n {
            for j in 0..=i {
                let mut sum = lin.normal[free[i]][free[j]];
                if j >= BASE {
                    sum += walk.penalty(i - BASE, j - BASE, count);
                }
                let (a, b) = (&factor[i][..j], &factor[j][..j]);
                sum -= a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
                if i == j {
                    if !(sum > 0.0) {
                        return None;
                    }
                    log_determinant += sum.ln();
                    factor[i][i] = sum.sqrt();
                } else {
                    factor[i][j] = sum / factor[j][j];
                }
            }
        }
        Some(Self {
            free,
            factor,
            log_determinant,
        })
    }

    /// L⁻¹ v.
    fn forward(&self, v: &Vector) -> Vector {
        let mut out = [0.0; ALL];
        for i in 0..self.free.len() {
            let known: f64 = self.factor[i][..i]
                .iter()
                .zip(&out)
                .map(|(a, b)| a * b)
                .sum();
            out[i] = (v[self.free[i]] - known) / self.factor[i][i];
        }
        out
    }

    /// L⁻ᵀ v, spread over all parameters.
    fn backward(&self, v: &Vector) -> Vector {
        let n = self.free.len();
        let mut out = *v;
        for i in (0..n).rev() {
            out[i] /= self.factor[i][i];
            let value = out[i];
            for j in 0..i {
                out[j] -= self.factor[i][j] * value;
            }
        }
        let mut spread = [0.0; ALL];
        for (i, &index) in self.free.iter().enumerate() {
            spread[index] = out[i];
        }
        spread
    }
}

/// The smooth models of a trace.
pub(super) struct SmoothFamily<'a> {
    trace: Trace<'a>,
    /// A path near the points.
    near: Vector,
    grid: &'a NoiseGrid,
    /// Walks tried.
    walks: Vec<Walk>,
}

impl<'a> SmoothFamily<'a> {
    pub fn new(
        trace: Trace<'a>,
        near: &StraightArcPath,
        least_sd: f64,
        grid: &'a NoiseGrid,
    ) -> Self {
        let near = parameters_of(near);
        let share = 1.0 / PIECES as f64;
        // In shares of the path: a turn is curvature × length / PIECES, the walk
        // of curvature over one piece has WALK · share^½.
        let level = (trace.point_sd / (FIRST_CURVATURE * share)).powi(2);
        let slope = (trace.point_sd / (FIRST_SLOPE * share.powi(2))).powi(2);
        let mut walks = Vec::new();
        for (order, range) in WALK.iter().enumerate() {
            let power = order as f64 + 1.5;
            let stiffness = |sd: f64, walk: f64| (sd / (walk * share.powf(power))).powi(2);
            let loosest = stiffness(least_sd, range[1]);
            let stiffest = stiffness(trace.point_sd, range[0]);
            let count = ((stiffest / loosest).ln() / 8f64.ln()).ceil().max(1.0) as usize;
            walks.extend((0..=count).map(|k| Walk {
                level,
                slope: (order == 1).then_some(slope),
                stiffness: loosest * (stiffest / loosest).powf(k as f64 / count as f64),
            }));
        }
        Self {
            trace,
            near,
            grid,
            walks,
        }
    }

    /// Walks tried for each stretch.
    pub fn walk_count(&self) -> usize {
        self.walks.len()
    }

    /// The models, best first.
    pub fn entries(&self) -> Vec<SmoothEntry> {
        let lin = Linearised::about(&self.near, &self.trace);
        let base = base_log_determinant(&lin);
        // Each stretch by two walks first, then those within reach by all.
        let middle = self.walks.len() / 4;
        let few = [
            self.walks[middle],
            self.walks[self.walks.len() - 1 - middle],
        ];
        let mut stretches: Vec<(f64, usize, usize)> = Vec::new();
        for first in FIRSTS {
            for last in LASTS {
                let mut found = Vec::new();
                self.try_stretch(&lin, base, (first, last), &few, &mut found);
                let logs = found.iter().map(|e| e.judged.log_evidence);
                stretches.push((logs.fold(f64::NEG_INFINITY, f64::max), first, last));
            }
        }
        let best = stretches
            .iter()
            .map(|s| s.0)
            .fold(f64::NEG_INFINITY, f64::max);
        let mut entries = Vec::new();
        for &(log, first, last) in &stretches {
            if log >= best - STRETCH_REACH {
                self.try_stretch(&lin, base, (first, last), &self.walks, &mut entries);
            }
        }
        entries
            .sort_by(|a: &SmoothEntry, b| b.judged.log_evidence.total_cmp(&a.judged.log_evidence));
        entries
    }

    fn try_stretch(
        &self,
        lin: &Linearised,
        base: f64,
        (first, last): (usize, usize),
        walks: &[Walk],
        out: &mut Vec<SmoothEntry>,
    ) {
        if first + 3 >= last {
            return;
        }
        let variance = self.trace.point_sd.powi(2);
        let residuals = self.trace.points.len() + 2;
        let log_prior_of_stretch = stretch_log_prior(first, last);
        for walk in walks {
            let Some(solved) = Solved::new(lin, first, last, walk) else {
                continue;
            };
            let half = solved.forward(&lin.right);
            let explained: f64 = half.iter().map(|v| v * v).sum();
            let chi_square = ((lin.square - explained) / variance).max(0.0);
            let log_prior = walk.log_determinant(last - first);
            let cost = solved.log_determinant - base - log_prior - 2.0 * log_prior_of_stretch;
            let judged = self
                .grid
                .judge(chi_square, residuals as f64 - BASE as f64, cost);
            out.push(SmoothEntry {
                first,
                last,
                walk: *walk,
                chi_square,
                judged,
            });
        }
    }

    fn solve(&self, lin: &Linearised, entry: &SmoothEntry) -> Option<Vector> {
        let solved = Solved::new(lin, entry.first, entry.last, &entry.walk)?;
        Some(solved.backward(&solved.forward(&lin.right)))
    }

    /// The form of a model.
    /// `open` multiplies what no point tells of it. With it the number of
    /// parameters it amounts to: the trace of the matrix
    /// that takes the points to the path.
    pub fn form(&self, entry: &SmoothEntry, open: f64) -> Option<(SmoothForm, f64)> {
        let mut parameters = self.near;
        for _ in 0..2 {
            let lin = Linearised::about(&parameters, &self.trace);
            parameters = self.solve(&lin, entry)?;
        }
        let lin = Linearised::about(&parameters, &self.trace);
        // Points that scatter less than stated show a looser walk than the
        // statement would; what they may do is still as stated.
        let walk = Walk {
            stiffness: entry.walk.stiffness / entry.judged.variance_ratio.min(1.0),
            ..entry.walk
        };
        let solved = Solved::new(&lin, entry.first, entry.last, &walk)?;
        let rows = lin.jacobian.len();
        let mut amount = 0.0;
        let mut gain = vec![0.0; ALL * rows];
        for (column, (row, weight)) in lin.jacobian.iter().zip(&lin.weights).enumerate() {
            let half = solved.forward(row);
            amount += half.iter().map(|v| v * v).sum::<f64>();
            let moved = solved.backward(&half);
            for (parameter, value) in moved.iter().enumerate() {
                gain[parameter * rows + column] = value * weight;
            }
        }
        let count = entry.last - entry.first;
        // V·P·V, P the penalty: columns V·(rows of its root).
        let roots: Vec<Vector> = (0..count)
            .map(|k| {
                let (precision, entries) = walk.row(k);
                let mut row = [0.0; ALL];
                for (back, value) in entries.iter().rev().enumerate() {
                    if back <= k {
                        row[BASE + entry.first + k - back] = value * precision.sqrt();
                    }
                }
                solved.backward(&solved.forward(&row))
            })
            .collect();
        let sd = self.trace.point_sd * entry.judged.variance_ratio.max(1.0).sqrt();
        let modes = leading_modes(&roots, sd * open);
        let mut form = SmoothForm {
            first: entry.first,
            last: entry.last,
            parameters,
            gain,
            normals: lin.normals,
            modes,
            bends: ArrayVec::new(),
        };
        form.bends = form.find_bends(&solved, sd);
        Some((form, amount))
    }
}

/// How likely a bend is to start and end there before any point is seen.
fn stretch_log_prior(first: usize, last: usize) -> f64 {
    const FROM_ORIFICE: f64 = 0.4;
    const TO_APEX: f64 = 0.6;
    let start = if first == 0 {
        FROM_ORIFICE
    } else {
        (1.0 - FROM_ORIFICE) / (FIRSTS.len() - 1) as f64
    };
    let end = if last == PIECES {
        TO_APEX
    } else {
        (1.0 - TO_APEX) / (LASTS.len() - 1) as f64
    };
    f64::ln(start * end)
}

/// Pivoted Cholesky of the covariance R Rᵀ of the turns: its greatest few ways
/// to vary.
fn leading_modes(roots: &[Vector], sd: f64) -> [Vector; SHAPE_MODES] {
    let mut covariance = Box::new([[0.0; ALL]; ALL]);
    for root in roots {
        for i in 0..ALL {
            for j in 0..=i {
                covariance[i][j] += sd * sd * root[i] * root[j];
            }
        }
    }
    for i in 0..ALL {
        for j in 0..i {
            covariance[j][i] = covariance[i][j];
        }
    }
    let mut modes = [[0.0; ALL]; SHAPE_MODES];
    for mode in &mut modes {
        let pivot = (BASE..ALL).max_by(|&a, &b| covariance[a][a].total_cmp(&covariance[b][b]));
        let Some(pivot) = pivot.filter(|&p| covariance[p][p] > 1e-16) else {
            break;
        };
        let scale = covariance[pivot][pivot].sqrt().recip();
        for i in 0..ALL {
            mode[i] = covariance[i][pivot] * scale;
        }
        for i in 0..ALL {
            for j in 0..ALL {
                covariance[i][j] -= mode[i] * mode[j];
            }
        }
    }
    modes
}

fn base_log_determinant(lin: &Linearised) -> f64 {
    let mut factor = [[0.0; BASE]; BASE];
    let mut log = 0.0;
    for i in 0..BASE {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
            let sum = lin.normal[i][j] - known;
            if i == j {
                log += sum.max(f64::MIN_POSITIVE).ln();
                factor[i][i] = sum.max(f64::MIN_POSITIVE).sqrt();
            } else {
                factor[i][j] = sum / factor[j][j];
            }
        }
    }
    log
}

/// A stretch that turns to the other side by less than this is no bend, rad.
const LEAST_BEND_RAD: f64 = 0.035;
/// Nor one that turns by less than so many standard deviations.
const LEAST_BEND_SD: f64 = 1.5;

impl SmoothForm {
    /// Pieces between which the turning keeps its side, but for what the points
    /// cannot tell.
    fn find_bends(&self, solved: &Solved, sd: f64) -> ArrayVec<[usize; 2], MAX_ARCS> {
        let turns = &self.parameters[BASE..];
        let mut stretches: Vec<[usize; 2]> = Vec::new();
        for k in self.first..self.last {
            match stretches.last_mut() {
                Some(stretch) if turns[stretch[1]] * turns[k] > 0.0 => stretch[1] = k,
                _ => stretches.push([k, k]),
            }
        }
        let turn = |s: &[usize; 2]| turns[s[0]..=s[1]].iter().sum::<f64>();
        let turn_sd = |s: &[usize; 2]| {
            let mut ones = [0.0; ALL];
            ones[BASE + s[0]..=BASE + s[1]].fill(1.0);
            let half = solved.forward(&ones);
            sd * half.iter().map(|v| v * v).sum::<f64>().sqrt()
        };
        loop {
            if stretches.len() <= 1 {
                break;
            }
            let excess =
                |s: &[usize; 2]| turn(s).abs() / (LEAST_BEND_SD * turn_sd(s)).max(LEAST_BEND_RAD);
            let weakest = (0..stretches.len())
                .map(|i| (i, excess(&stretches[i])))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((index, least)) = weakest else { break };
            if least >= 1.0 && stretches.len() <= MAX_ARCS {
                break;
            }
            // Its neighbours turn to the same side: all three become one.
            let from = stretches[index.saturating_sub(1)][0];
            let last = (index + 1).min(stretches.len() - 1);
            let to = stretches[last][1];
            stretches.splice(index.saturating_sub(1)..=last, [[from, to]]);
        }
        let offset = usize::from(self.first > 0);
        let shifted = stretches
            .into_iter()
            .map(|s| s.map(|k| k - self.first + offset));
        shifted.take(MAX_ARCS).collect()
    }

    /// Standard deviation of the net turn that no point tells, rad.
    pub(super) fn open_turn_rad(&self) -> f64 {
        let turn = |mode: &Vector| mode[BASE..].iter().sum::<f64>();
        let squares = self.modes.iter().map(|mode| turn(mode).powi(2));
        squares.sum::<f64>().sqrt()
    }

    /// Its path.
    pub fn path(&self) -> Result<StraightArcPath, FitError> {
        self.path_of(&self.parameters)
    }

    /// The path that `points` give in place of those of `feet`, which lie on
    /// this form's own path; `shape` are standard normal deviates of what no
    /// point tells.
    ///
    /// # Errors
    /// [`FitError::PointCount`] for another number of points, and as
    /// [`StraightArcPath::new`].
    pub fn moved(
        &self,
        points: &[Point],
        feet: &[Point],
        shape: &[f64; SHAPE_MODES],
    ) -> Result<StraightArcPath, FitError> {
        let rows = self.normals.len();
        if points.len() + 2 != rows || feet.len() != points.len() {
            return Err(FitError::PointCount {
                expected: rows - 2,
                given: points.len(),
            });
        }
        let mut residuals = ArrayVec::<f64, 512>::new();
        let mut heap = Vec::new();
        let last = points.len() - 1;
        let mut put = |value: f64| {
            if rows <= 512 {
                residuals.push(value)
            } else {
                heap.push(value)
            }
        };
        let mut row = 0;
        for (index, (point, foot)) in points.iter().zip(feet).enumerate() {
            let copies = if index == 0 || index == last { 2 } else { 1 };
            for _ in 0..copies {
                put(self.normals[row].dot(*point - *foot));
                row += 1;
            }
        }
        let residuals = if rows <= 512 {
            &residuals[..]
        } else {
            &heap[..]
        };
        let mut parameters = self.parameters;
        for (parameter, gains) in parameters.iter_mut().zip(self.gain.chunks_exact(rows)) {
            *parameter += gains.iter().zip(residuals).map(|(g, r)| g * r).sum::<f64>();
        }
        for (mode, deviate) in self.modes.iter().zip(shape) {
            if *deviate != 0.0 {
                for (parameter, m) in parameters.iter_mut().zip(mode) {
                    *parameter += m * deviate;
                }
            }
        }
        self.path_of(&parameters)
    }

    fn path_of(&self, parameters: &Vector) -> Result<StraightArcPath, FitError> {
        let step = parameters[3] / PIECES as f64;
        if !(step > 0.0) {
            return Err(GeometryError::InvalidPiece { index: 0 }.into());
        }
        let mut pieces = ArrayVec::<Piece, { PIECES + 2 }>::new();
        if self.first > 0 {
            pieces.push(Piece::Straight {
                length: self.first as f64 * step,
            });
        }
        for k in self.first..self.last {
            pieces.push(Piece::Arc {
                length: step,
                turn_rad: parameters[BASE + k],
            });
        }
        if self.last < PIECES {
            pieces.push(Piece::Straight {
                length: (PIECES - self.last) as f64 * step,
            });
        }
        let start = Point::new(parameters[0], parameters[1]);
        Ok(StraightArcPath::new(start, parameters[2], &pieces)?.with_bends(&self.bends))
    }
}
