//! Levenberg–Marquardt to full convergence, from near the least χ².

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

use super::gauss_newton::{Problem, Solution};
use super::model::{PlacedPath, Row, Structure};

/// Continues from `near` until the solver finds no further descent.
/// Lengths that stand on their bound are held there.
pub(super) fn polished(problem: &Problem, structure: &Structure, near: &Solution) -> Solution {
    let free = problem.free_parameters(structure, &near.parameters);
    let target = Target {
        problem,
        structure,
        parameters: near.parameters,
        free,
    };
    let (target, report) = LevenbergMarquardt::new().with_patience(20).minimize(target);
    let chi_square = 2.0 * report.objective_function;
    let better = chi_square <= near.chi_square * (1.0 + 1e-6) + 1e-9;
    let inside = target
        .free
        .iter()
        .zip(problem.free_parameters(structure, &target.parameters));
    if better && inside.filter(|(a, b)| **a == *b).count() == target.free.len() {
        let converged = report.termination.was_successful();
        Solution {
            parameters: target.parameters,
            chi_square,
            converged,
        }
    } else {
        near.clone()
    }
}

struct Target<'a> {
    problem: &'a Problem<'a>,
    structure: &'a Structure,
    parameters: Row,
    /// Indices of the parameters that may move.
    free: Vec<usize>,
}

impl Target<'_> {
    fn residual_count(&self) -> usize {
        self.problem.points.len() + 2
    }

    fn for_each_residual(&self, take: impl FnMut(f64, &Row)) {
        PlacedPath::new(self.structure, &self.parameters)
            .for_each_residual(self.problem.points, take);
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Target<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        for (&index, &value) in self.free.iter().zip(x) {
            self.parameters[index] = value;
        }
    }

    fn params(&self) -> DVector<f64> {
        DVector::from_iterator(
            self.free.len(),
            self.free.iter().map(|&i| self.parameters[i]),
        )
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let mut residuals = DVector::zeros(self.residual_count());
        let mut next = residuals.iter_mut();
        self.for_each_residual(|residual, _| {
            if let Some(entry) = next.next() {
                *entry = residual / self.problem.point_sd;
            }
        });
        residuals.iter().all(|r| r.is_finite()).then_some(residuals)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let mut jacobian = DMatrix::zeros(self.residual_count(), self.free.len());
        let mut line = 0;
        self.for_each_residual(|_, row| {
            for (column, &index) in self.free.iter().enumerate() {
                jacobian[(line, column)] = row[index] / self.problem.point_sd;
            }
            line += 1;
        });
        jacobian.iter().all(|r| r.is_finite()).then_some(jacobian)
    }
}
