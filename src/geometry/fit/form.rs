//! One structure fitted to a trace, to be fitted again to copies of it.

use std::sync::Arc;

use kurbo::Point;

use super::FitError;
use super::gauss_newton::{Limits, Problem};
use super::structure::{Row, Structure};
use crate::geometry::{GeometryError, StraightArcPath};

/// A structure with the parameters that fit a trace best.
#[derive(Clone, Debug, PartialEq)]
pub struct FormFit {
    pub(super) structure: Structure,
    pub(super) parameters: Row,
    pub(super) point_count: usize,
    /// Of the points; none: 1 each.
    pub(super) weights: Arc<[f64]>,
    pub(super) point_sd: f64,
    /// Mean distance between neighbouring points.
    pub(super) spacing: f64,
}

impl FormFit {
    /// Its structure.
    pub fn structure(&self) -> &Structure {
        &self.structure
    }

    /// Its parameters, in the order of [`Structure::parameters`].
    pub fn parameters(&self) -> &[f64] {
        &self.parameters[..self.structure.parameter_count()]
    }

    /// Its path.
    ///
    /// # Errors
    /// [`FitError::Points`] when the parameters make none.
    pub fn path(&self) -> Result<StraightArcPath, FitError> {
        Ok(self.structure.path(&self.parameters)?)
    }

    /// The path of the same structure through other points near the first
    /// ones, for Monte Carlo draws and dragging: a few steps from this fit,
    /// without allocation. Agrees with a full fit of the structure to far
    /// below the noise.
    ///
    /// # Errors
    /// [`FitError::PointCount`] for another number of points,
    /// [`FitError::Points`] for a coordinate that is not finite.
    pub fn refit(&self, points: &[Point]) -> Result<StraightArcPath, FitError> {
        Ok(self.structure.path(&self.refitted_parameters(points)?)?)
    }

    /// The form that [`FormFit::refit`] finds.
    ///
    /// # Errors
    /// As [`FormFit::refit`].
    pub fn refitted(mut self, points: &[Point]) -> Result<Self, FitError> {
        self.parameters = self.refitted_parameters(points)?;
        Ok(self)
    }

    fn refitted_parameters(&self, points: &[Point]) -> Result<Row, FitError> {
        if points.len() != self.point_count {
            return Err(FitError::PointCount {
                expected: self.point_count,
                given: points.len(),
            });
        }
        if let Some(index) = points.iter().position(|p| !p.is_finite()) {
            return Err(GeometryError::NotFinite { index }.into());
        }
        let problem = Problem {
            points,
            weights: &self.weights,
            point_sd: self.point_sd,
            spacing: self.spacing,
        };
        let solution = problem.solve(&self.structure, &self.parameters, REFIT_LIMITS);
        Ok(solution.parameters)
    }
}

/// Most steps from one noisy copy of a trace to another settle in three or
/// four evaluations. A last step that lowers χ² by 1e-3 is three hundredths of
/// a standard deviation long; what is left after it is far less. The few that
/// need more than these evaluations follow a valley of χ² in which one
/// place is almost as good as another.
const REFIT_LIMITS: Limits = Limits {
    evaluations: 25,
    last_fall: 1e-3,
};
