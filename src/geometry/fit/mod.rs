//! Least-squares fit of a [`StraightArcPath`] to a trace (METHODS 2).
//!
//! Residuals are orthogonal distances, for the end points also along the
//! path, divided by the known standard deviation of a point. Structures with
//! 0 to 3 arcs compete; the least of
//!
//! > χ² + (4 + 3 ln m) · arcs + 0.3 · straight pieces
//!
//! wins, with m the number of residuals. An arc costs its radius, its turn and
//! the search for its place at ln m each, as in Schwarz's criterion, and 4
//! more to keep arcs that follow the noise below about one trace in five
//! hundred: each such arc at the apical end spoils an angle by tens of
//! degrees. A straight piece costs little: it only has to beat the path
//! without it by more than rounding, so that short straight ends are not
//! taken for curve. Both numbers are those that measured best. See `docs/accuracy.md` for bias and spread against the
//! Cramér–Rao bound of the model.

mod gauss_newton;
mod model;
mod polish;
mod search;

use kurbo::Point;
use thiserror::Error;

use super::{GeometryError, MAX_ARCS, StraightArcPath, check_points};
use gauss_newton::{Limits, Problem};
use model::Row;
pub use model::{MAX_PARAMETERS, Parameter, PieceKind, Structure};

/// What to fit and how to choose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitOptions {
    /// Standard deviation of a point per coordinate, in the points' unit;
    /// positive.
    pub point_sd: f64,
    /// Most arcs, 0 to [`MAX_ARCS`].
    pub max_arcs: usize,
}

impl FitOptions {
    /// The usual options at this standard deviation of a point.
    pub fn new(point_sd: f64) -> Self {
        Self {
            point_sd,
            max_arcs: MAX_ARCS,
        }
    }
}

/// Why no path could be fitted.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum FitError {
    /// The points are no usable trace; at least four are needed.
    #[error(transparent)]
    Points(#[from] GeometryError),
    /// The standard deviation of a point is not a positive number.
    #[error("the standard deviation of a point must be above zero; {given} given")]
    PointSd {
        /// The value given.
        given: f64,
    },
    /// No structure's least-squares fit converged.
    #[error("the fit of straight pieces and arcs did not converge on these points")]
    NoConvergence,
    /// A refit got another number of points than its fit.
    #[error("a refit needs the {expected} points of its fit; {given} given")]
    PointCount {
        /// Number of points of the fit.
        expected: usize,
        /// Number given.
        given: usize,
    },
}

/// What `structure` has to make up for in χ² with `residuals` residuals.
fn cost(structure: &Structure, residuals: usize) -> f64 {
    const ARC_MARGIN: f64 = 4.0;
    const STRAIGHT: f64 = 0.3;
    let arcs = structure.arc_count();
    let straights = structure.kinds().len() - arcs;
    let arc = ARC_MARGIN + 3.0 * (residuals as f64).ln();
    arc * arcs as f64 + STRAIGHT * straights as f64
}

/// How one structure did in the choice.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The structure.
    pub structure: Structure,
    /// Its number of parameters.
    pub parameter_count: usize,
    /// Its least χ² found.
    pub chi_square: f64,
    /// Its value of the criterion; the least wins.
    pub criterion: f64,
    /// Its fit converged; others take no part in the choice.
    pub converged: bool,
    /// Where a refit of this candidate starts.
    refit_start: (Structure, Row),
}

/// Least number of points for a fit (METHODS 2).
const LEAST_POINTS: usize = 4;

/// A fitted path with its uncertainty and the competition it won.
#[derive(Clone, Debug)]
pub struct PathFit {
    path: StraightArcPath,
    structure: Structure,
    parameters: Row,
    covariance: Option<[Row; MAX_PARAMETERS]>,
    chi_square: f64,
    point_count: usize,
    point_sd: f64,
    /// Mean distance between neighbouring points.
    spacing: f64,
    turn_sd_if_straight_rad: Option<f64>,
    candidates: Vec<Candidate>,
}

/// Fits the best path of straight pieces and arcs to a trace of four or more
/// points in order.
///
/// # Errors
/// [`FitError`] for unusable points or options, or when no structure
/// converged.
pub fn fit_path(points: &[Point], options: &FitOptions) -> Result<PathFit, FitError> {
    check_points(points, LEAST_POINTS)?;
    if !(options.point_sd.is_finite() && options.point_sd > 0.0) {
        return Err(FitError::PointSd {
            given: options.point_sd,
        });
    }
    search::best_fit(points, options)
}

impl PathFit {
    /// The fitted path.
    pub fn path(&self) -> &StraightArcPath {
        &self.path
    }

    /// Its structure.
    pub fn structure(&self) -> &Structure {
        &self.structure
    }

    /// The parameters, in the order of [`Structure::parameters`].
    pub fn parameters(&self) -> &[f64] {
        &self.parameters[..self.structure.parameter_count()]
    }

    /// Covariance of two parameters by index, at the standard deviation of a
    /// point the fit was told; `None` when the points do not determine all
    /// parameters, or for an index out of range.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let count = self.structure.parameter_count();
        (i < count && j < count).then_some(())?;
        self.covariance.map(|matrix| matrix[i][j])
    }

    /// A path with parameters drawn about the fitted ones with their
    /// covariance, lengths kept from going below zero; `standard_normal` gives
    /// the deviates. `None` without a covariance.
    pub fn drawn_path(&self, mut standard_normal: impl FnMut() -> f64) -> Option<StraightArcPath> {
        let count = self.structure.parameter_count();
        let mut factor = self.covariance?;
        gauss_newton::cholesky(&mut factor, count)?;
        let mut deviates = [0.0; MAX_PARAMETERS];
        deviates[..count].fill_with(&mut standard_normal);
        let mut drawn = self.parameters;
        for i in 0..count {
            drawn[i] += (0..=i).map(|j| factor[i][j] * deviates[j]).sum::<f64>();
        }
        for (kind, index) in self.structure.length_indices() {
            let least = if kind == PieceKind::Arc {
                self.point_sd
            } else {
                0.0
            };
            drawn[index] = drawn[index].max(least);
        }
        self.structure.path(&drawn).ok()
    }

    /// Standard uncertainty of the net turn from start to end, rad; for a path
    /// without arcs that of the turn of one arc all along it. `None` when the
    /// points do not determine all parameters.
    pub fn net_turn_sd_rad(&self) -> Option<f64> {
        if self.structure.arc_count() == 0 {
            return self.turn_sd_if_straight_rad;
        }
        let is_turn = |(i, parameter)| matches!(parameter, Parameter::TurnRad { .. }).then_some(i);
        let turns = || self.structure.parameters().enumerate().filter_map(is_turn);
        let covariance = self.covariance?;
        let variance: f64 = turns()
            .flat_map(|i| turns().map(move |j| covariance[i][j]))
            .sum();
        Some(variance.max(0.0).sqrt())
    }

    /// Sum of squared residuals over the variance of a point.
    pub fn chi_square(&self) -> f64 {
        self.chi_square
    }

    /// Residuals less parameters.
    pub fn degrees_of_freedom(&self) -> usize {
        (self.point_count + 2).saturating_sub(self.structure.parameter_count())
    }

    /// The structures that were fitted, best first.
    pub fn candidates(&self) -> &[Candidate] {
        &self.candidates
    }

    /// The same structure fitted to other points near the first ones, for
    /// Monte Carlo draws and dragging: a few Gauss–Newton steps from this
    /// fit, without allocation. Agrees with a full fit of the structure to
    /// far below the noise.
    ///
    /// # Errors
    /// [`FitError::PointCount`] for another number of points,
    /// [`FitError::Points`] for a coordinate that is not finite,
    /// [`FitError::NoConvergence`] when the steps do not settle.
    pub fn refit(&self, points: &[Point]) -> Result<StraightArcPath, FitError> {
        self.refit_from(&self.structure, &self.parameters, points)
    }

    /// As [`PathFit::refit`] with the arcs of one of
    /// [`PathFit::candidates`], by index (the last one for an index beyond),
    /// and a straight piece wherever one may stand: where the fit found none
    /// other points may still show one.
    ///
    /// # Errors
    /// As [`PathFit::refit`].
    pub fn refit_candidate(
        &self,
        index: usize,
        points: &[Point],
    ) -> Result<StraightArcPath, FitError> {
        match self.candidates.get(index).or(self.candidates.last()) {
            Some(candidate) => {
                let (structure, parameters) = &candidate.refit_start;
                self.refit_from(structure, parameters, points)
            }
            None => self.refit(points),
        }
    }

    fn refit_from(
        &self,
        structure: &Structure,
        start: &Row,
        points: &[Point],
    ) -> Result<StraightArcPath, FitError> {
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
            point_sd: self.point_sd,
            spacing: self.spacing,
        };
        let solution = problem.solve(structure, start, REFIT_LIMITS);
        Ok(structure.path(&solution.parameters)?)
    }
}

/// Most steps from one noisy copy of a trace to another settle in two or
/// three evaluations. A last step that lowers χ² by 1e-2 is a tenth of a
/// standard deviation long; what is left after it is far less.
const REFIT_LIMITS: Limits = Limits {
    evaluations: 12,
    last_fall: 1e-2,
};
