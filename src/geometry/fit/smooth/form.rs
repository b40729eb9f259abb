//! A smooth path through a trace.

use std::sync::OnceLock;

use arrayvec::ArrayVec;
use kurbo::{Point, Vec2};

use super::linearised::Linearised;
use super::penalised::{Solved, Walk};
use super::{ALL, BASE, PIECES, Vector};
use crate::geometry::GeometryError;
use crate::geometry::fit::FitError;
use crate::geometry::straight_arc_path::{MAX_ARCS, Piece, StraightArcPath};

/// Independent ways in which a path may differ from the smoothest one through
/// its points.
pub const SHAPE_MODES: usize = 6;

/// A smooth path through a trace, to be moved to others near it.
#[derive(Clone, Debug)]
pub struct SmoothForm {
    first: usize,
    last: usize,
    parameters: Vector,
    /// Direction that each residual is counted along.
    normals: Vec<Vec2>,
    bends: ArrayVec<[usize; 2], MAX_ARCS>,
    source: MovesSource,
    moves: OnceLock<Moves>,
}

/// How the path goes with its points and without them.
#[derive(Clone, Debug)]
struct Moves {
    /// Change of each parameter per displacement of each residual: rows of
    /// parameters.
    gain: Vec<f64>,
    modes: [Vector; SHAPE_MODES],
}

/// What [`Moves`] are worked out from when they are first asked for: many paths
/// are looked at and never moved.
#[derive(Clone, Debug)]
struct MovesSource {
    solved: Solved,
    walk: Walk,
    /// L⁻¹ of each row of derivatives, and its weight.
    halves: Vec<(Vector, f64)>,
    /// Standard deviation of a point, times what is left open beyond the walk.
    open_sd: f64,
}

impl MovesSource {
    fn moves(&self, first: usize, last: usize) -> Moves {
        let rows = self.halves.len();
        let mut gain = vec![0.0; ALL * rows];
        for (column, (half, weight)) in self.halves.iter().enumerate() {
            let moved = self.solved.backward(half);
            for (parameter, value) in moved.iter().enumerate() {
                gain[parameter * rows + column] = value * weight;
            }
        }
        // V·P·V, P the penalty: columns V·(rows of its root).
        let roots: Vec<Vector> = (0..last - first)
            .map(|k| {
                let (precision, entries) = self.walk.row(k);
                let mut row = [0.0; ALL];
                for (back, value) in entries.iter().rev().enumerate() {
                    if back <= k {
                        row[BASE + first + k - back] = value * precision.sqrt();
                    }
                }
                self.solved.backward(&self.solved.forward(&row))
            })
            .collect();
        Moves {
            gain,
            modes: leading_modes(&roots, self.open_sd),
        }
    }
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

/// A stretch that turns to the other side by less than this is no bend, rad.
const LEAST_BEND_RAD: f64 = 0.035;
/// Nor one that turns by less than so many standard deviations.
const LEAST_BEND_SD: f64 = 1.5;

impl SmoothForm {
    /// The form with those parameters, solved once more about them; `point_sd`
    /// is the standard deviation of a point as the form has it, `open`
    /// multiplies what no point tells of it. With it the number of parameters it
    /// amounts to: the trace of the matrix that takes the points to the path.
    pub(super) fn new(
        lin: Linearised,
        solved: Solved,
        (parameters, walk): (Vector, Walk),
        [first, last]: [usize; 2],
        [point_sd, open]: [f64; 2],
    ) -> (Self, f64) {
        let weighted = lin.jacobian.iter().zip(&lin.weights);
        let halves: Vec<(Vector, f64)> = weighted
            .map(|(row, weight)| (solved.forward(row), *weight))
            .collect();
        let squares = |(half, _): &(Vector, f64)| half.iter().map(|v| v * v).sum::<f64>();
        let amount = halves.iter().map(squares).sum();
        let mut form = Self {
            first,
            last,
            parameters,
            normals: lin.normals,
            bends: ArrayVec::new(),
            source: MovesSource {
                solved,
                walk,
                halves,
                open_sd: point_sd * open,
            },
            moves: OnceLock::new(),
        };
        form.bends = form.find_bends(point_sd);
        (form, amount)
    }

    fn moves(&self) -> &Moves {
        self.moves
            .get_or_init(|| self.source.moves(self.first, self.last))
    }

    /// Pieces between which the turning keeps its side, but for what the points
    /// cannot tell.
    fn find_bends(&self, sd: f64) -> ArrayVec<[usize; 2], MAX_ARCS> {
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
            let half = self.source.solved.forward(&ones);
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
    pub(in super::super) fn open_turn_rad(&self) -> f64 {
        let turn = |mode: &Vector| mode[BASE..].iter().sum::<f64>();
        let squares = self.moves().modes.iter().map(|mode| turn(mode).powi(2));
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
        let moves = self.moves();
        let mut parameters = self.parameters;
        for (parameter, gains) in parameters.iter_mut().zip(moves.gain.chunks_exact(rows)) {
            *parameter += gains.iter().zip(residuals).map(|(g, r)| g * r).sum::<f64>();
        }
        for (mode, deviate) in moves.modes.iter().zip(shape) {
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
        if step.is_nan() || step <= 0.0 {
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
