//! Levenberg's and Marquardt's damped Gauss–Newton steps with lower bounds, on
//! stack arrays only: the search of the cold fit and the whole of the warm
//! refit.

use kurbo::Point;

use super::model::{NormalEquations, PlacedPath};
use super::structure::{MAX_PARAMETERS, Row, Structure};

type Matrix = [Row; MAX_PARAMETERS];

/// When to stop.
#[derive(Clone, Copy)]
pub(super) struct Limits {
    /// Most evaluations of the model.
    pub evaluations: usize,
    /// Expected fall of χ² below which a step is taken as the last one.
    pub last_fall: f64,
}

/// Where the iteration ended.
#[derive(Clone)]
pub(super) struct Solution {
    pub parameters: Row,
    /// Sum of squared residuals over the variance of a point.
    pub chi_square: f64,
}

/// Points to fit to, their standard deviation and spacing.
#[derive(Clone, Copy)]
pub(super) struct Problem<'a> {
    pub points: &'a [Point],
    /// Of the points in χ²; none: 1 each.
    pub weights: &'a [f64],
    pub point_sd: f64,
    /// Mean distance between neighbouring points.
    pub spacing: f64,
}

impl Problem<'_> {
    /// Arcs are held at least this long. A single one shorter than a point's
    /// deviation is a kink, which no point can tell from it; several must each
    /// span the points' spacing, or an arc between two points follows the
    /// noise of one of them.
    pub fn shortest_arc(&self, structure: &Structure) -> f64 {
        if structure.arc_count() > 1 {
            self.spacing.max(self.point_sd)
        } else {
            self.point_sd
        }
    }

    /// Lower bound of each parameter: lengths only.
    pub fn lower_bounds(&self, structure: &Structure) -> Row {
        let mut bounds = [f64::NEG_INFINITY; MAX_PARAMETERS];
        for (kind, index) in structure.length_indices() {
            bounds[index] = match kind {
                super::PieceKind::Straight => 0.0,
                super::PieceKind::Arc => self.shortest_arc(structure),
            };
        }
        bounds
    }

    /// χ² with its gradient and Gauss–Newton matrix (both halved).
    pub fn linearised(&self, structure: &Structure, parameters: &Row) -> Linearised {
        let mut out = Linearised::default();
        self.linearise(structure, parameters, &mut out);
        out
    }

    fn linearise(&self, structure: &Structure, parameters: &Row, out: &mut Linearised) {
        PlacedPath::new(structure, parameters).normal_equations(
            self.points,
            self.weights,
            &mut out.equations,
        );
        out.variance = self.point_sd * self.point_sd;
        out.chi_square = out.equations.sum_of_squares / out.variance;
    }

    /// Least squares from `start` with the structure frozen.
    pub fn solve(&self, structure: &Structure, start: &Row, limits: Limits) -> Solution {
        let bounds = self.lower_bounds(structure);
        let count = structure.parameter_count();
        let mut parameters = *start;
        for i in 0..count {
            parameters[i] = parameters[i].max(bounds[i]);
        }
        let (mut first, mut second) = (Linearised::default(), Linearised::default());
        let (mut here, mut there) = (&mut first, &mut second);
        let mut factor = [[0.0; MAX_PARAMETERS]; MAX_PARAMETERS];
        self.linearise(structure, &parameters, here);
        let mut damping = LEAST_DAMPING;
        for _ in 1..limits.evaluations {
            let found = here.step(&parameters, &bounds, count, damping, &mut factor);
            let Some((step, fall)) = found else {
                damping = raised(damping);
                continue;
            };
            let mut trial = parameters;
            for i in 0..count {
                trial[i] = (trial[i] + step[i]).max(bounds[i]);
            }
            if fall <= limits.last_fall && damping <= MOST_LAST_DAMPING {
                let chi_square = (here.chi_square - fall).max(0.0);
                return Solution {
                    parameters: trial,
                    chi_square,
                };
            }
            self.linearise(structure, &trial, there);
            let gain = (here.chi_square - there.chi_square) / fall;
            if gain > 0.0 {
                parameters = trial;
                std::mem::swap(&mut here, &mut there);
            }
            damping = match gain {
                0.75.. => lowered(damping),
                0.25.. => damping,
                _ => raised(damping),
            };
        }
        Solution {
            parameters,
            chi_square: here.chi_square,
        }
    }
}

/// Damping is in units of the matrix's diagonal. The least only keeps a
/// direction that the points say nothing of from making the matrix singular.
const LEAST_DAMPING: f64 = 1e-7;
/// First damping of a step that failed.
const RAISED_DAMPING: f64 = 1e-3;
/// A step damped more than this may expect little because it is short.
const MOST_LAST_DAMPING: f64 = 1e-2;

fn raised(damping: f64) -> f64 {
    (damping * 10.0).max(RAISED_DAMPING)
}

fn lowered(damping: f64) -> f64 {
    (damping * 0.1).max(LEAST_DAMPING)
}

/// χ² near one set of parameters.
#[derive(Default)]
pub(super) struct Linearised {
    pub chi_square: f64,
    /// Of the sum of squares, not yet over the variance.
    equations: NormalEquations,
    variance: f64,
}

impl Linearised {
    /// Step towards the least χ² within the bounds and the fall of χ² to be
    /// expected of it; `None` when the damped matrix is singular.
    ///
    /// The step goes straight for the least χ² until a parameter meets its
    /// bound, holds that one there and goes on with the others, so that the
    /// expected χ² falls all the way. `factor` is memory.
    fn step(
        &self,
        at: &Row,
        bounds: &Row,
        count: usize,
        damping: f64,
        factor: &mut Matrix,
    ) -> Option<(Row, f64)> {
        let mut fixed = [false; MAX_PARAMETERS];
        let mut step = [0.0; MAX_PARAMETERS];
        for i in 0..count {
            fixed[i] = at[i] <= bounds[i] && self.equations.gradient[i] > 0.0;
        }
        for _ in 0..=count {
            let mut target = step;
            self.solve_free(&fixed, &mut target, count, damping, factor)?;
            let mut share = 1.0;
            let mut crossing = None;
            for i in (0..count).filter(|&i| !fixed[i]) {
                let (change, room) = (target[i] - step[i], bounds[i] - at[i] - step[i]);
                if change < 0.0 && room / change < share {
                    share = room / change;
                    crossing = Some(i);
                }
            }
            for i in (0..count).filter(|&i| !fixed[i]) {
                step[i] += share * (target[i] - step[i]);
            }
            let Some(i) = crossing else { break };
            step[i] = bounds[i] - at[i];
            fixed[i] = true;
        }
        Some((step, self.expected_fall(&step, count)))
    }

    /// Solves for the free entries of `step`; fixed entries are kept.
    fn solve_free(
        &self,
        fixed: &[bool; MAX_PARAMETERS],
        step: &mut Row,
        count: usize,
        damping: f64,
        factor: &mut Matrix,
    ) -> Option<()> {
        let mut free = [0; MAX_PARAMETERS];
        let mut free_count = 0;
        for i in (0..count).filter(|&i| !fixed[i]) {
            free[free_count] = i;
            free_count += 1;
        }
        let free = &free[..free_count];
        let mut right = [0.0; MAX_PARAMETERS];
        for (a, &i) in free.iter().enumerate() {
            let row = &self.equations.matrix[i];
            right[a] = -self.equations.gradient[i];
            for (entry, &j) in factor[a].iter_mut().zip(&free[..=a]) {
                *entry = row[j];
            }
            factor[a][a] *= 1.0 + damping;
        }
        for j in (0..count).filter(|&j| fixed[j] && step[j] != 0.0) {
            for (entry, &i) in right.iter_mut().zip(free) {
                *entry -= self.entry(i, j) * step[j];
            }
        }
        factorise(factor, free_count)?;
        solve_factorised(factor, &mut right, free_count);
        for (a, &i) in free.iter().enumerate() {
            step[i] = right[a];
        }
        Some(())
    }

    fn expected_fall(&self, step: &Row, count: usize) -> f64 {
        let NormalEquations {
            gradient, matrix, ..
        } = &self.equations;
        let mut fall = 0.0;
        for (i, row) in matrix[..count].iter().enumerate() {
            let below: f64 = row[..i].iter().zip(&step[..i]).map(|(m, s)| m * s).sum();
            fall -= step[i] * (2.0 * (gradient[i] + below) + row[i] * step[i]);
        }
        fall / self.variance
    }

    fn entry(&self, i: usize, j: usize) -> f64 {
        self.equations.matrix[i.max(j)][i.min(j)]
    }

    /// Inverse of the Gauss–Newton matrix: the covariance of the parameters.
    /// `None` when the points do not determine all of them.
    pub fn covariance(&self, count: usize) -> Option<Matrix> {
        let mut factor = self.equations.matrix;
        factorise(&mut factor, count)?;
        let mut inverse = [[0.0; MAX_PARAMETERS]; MAX_PARAMETERS];
        for (column, out) in inverse.iter_mut().enumerate().take(count) {
            out[column] = self.variance;
            solve_factorised(&factor, out, count);
        }
        Some(inverse)
    }
}

/// Factors the leading `count` rows in place into L D Lᵀ: D on the diagonal, L
/// with its ones left out below it; `None` unless positive definite to
/// rounding. No sum is longer than two terms, so that a processor can work on
/// several entries at once.
pub(super) fn factorise(a: &mut Matrix, count: usize) -> Option<()> {
    let least: Row = std::array::from_fn(|i| 1e-13 * a[i][i]);
    let mut column = [0.0; MAX_PARAMETERS];
    for j in 0..count {
        let pivot = a[j][j];
        if pivot.is_nan() || pivot <= least[j] {
            return None;
        }
        let reciprocal = pivot.recip();
        for i in j + 1..count {
            column[i] = a[i][j];
        }
        for i in j + 1..count {
            let row = &mut a[i];
            let factor = column[i] * reciprocal;
            for (entry, other) in row[j + 1..=i].iter_mut().zip(&column[j + 1..=i]) {
                *entry -= factor * other;
            }
            row[j] = factor;
        }
    }
    Some(())
}

/// Solves with the factors of [`factorise`], in place.
fn solve_factorised(factors: &Matrix, right: &mut Row, count: usize) {
    for j in 0..count {
        let solved = right[j];
        for i in j + 1..count {
            right[i] -= factors[i][j] * solved;
        }
    }
    for i in 0..count {
        right[i] /= factors[i][i];
    }
    for (i, row) in factors[..count].iter().enumerate().rev() {
        let solved = right[i];
        for (entry, value) in right[..i].iter_mut().zip(row) {
            *entry -= value * solved;
        }
    }
}
