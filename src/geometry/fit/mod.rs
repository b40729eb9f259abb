//! Least-squares fit of a [`StraightArcPath`] to a trace (docs/methods.md 2).
//!
//! Residuals are orthogonal distances, for the end points also along the
//! path, divided by the known standard deviation of a point. Structures with
//! 0 to 3 arcs compete; the least of
//!
//! > χ² + 3 ln m · arcs + 4 (with an arc) + 1.5 (each further arc)
//! > + 2 (each straight end) + 0.5 (each straight piece between)
//!
//! wins, with m the number of residuals; χ² is taken over what the standard
//! deviation of a point may be ([`noise`]). An arc costs its radius, its turn
//! and the search for its place at ln m each, as in Schwarz's criterion. The
//! first costs 4 more, to keep a straight canal straight, and each further one
//! 1.5 more: about as many second bends are then missed where they are slight as
//! are found where there are none. The numbers are those that measured best.
//!
//! No form wins alone: those of straight pieces and arcs and those with a bend
//! of any shape ([`smooth`]) each have a share ([`forms`]), and results are
//! their mean. See `docs/accuracy.md` for bias, spread and coverage.

mod check;
mod form;
mod forms;
mod gauss_newton;
mod model;
mod noise;
mod search;
mod smooth;
mod start;
mod structure;

use kurbo::Point;
use thiserror::Error;

use super::{GeometryError, MAX_ARCS, StraightArcPath, check_points};
pub use check::FitCheck;
pub use form::FormFit;
use forms::Family;
pub use forms::{Form, WeightedForm};
pub use search::local_scatter_ratio;
pub use smooth::{SHAPE_MODES, SmoothForm};
use structure::Row;
pub use structure::{MAX_PARAMETERS, Parameter, PieceKind, Structure};

/// What to fit and how to choose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitOptions {
    /// Standard deviation of a point per coordinate, in the points' unit;
    /// positive.
    pub point_sd: f64,
    /// Most arcs, 0 to [`MAX_ARCS`].
    pub max_arcs: usize,
    /// Power of the evidence by which forms share, 0 to 1: with 1 the points
    /// alone decide between forms.
    pub form_power: f64,
}

impl FitOptions {
    /// The usual options at this standard deviation of a point.
    pub fn new(point_sd: f64) -> Self {
        Self {
            point_sd,
            max_arcs: MAX_ARCS,
            form_power: forms::TEMPER,
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
    /// No structure's least-squares fit came to a finite χ².
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
    const END: f64 = 2.0;
    const BETWEEN: f64 = 0.5;
    let kinds = structure.kinds();
    let is_straight = |kind: Option<&PieceKind>| kind == Some(&PieceKind::Straight);
    let arcs = structure.arc_count();
    let ends = match arcs {
        0 => 0,
        _ => usize::from(is_straight(kinds.first())) + usize::from(is_straight(kinds.last())),
    };
    let between = kinds.len() - arcs - ends;
    arc_cost(arcs, residuals) + END * ends as f64 + BETWEEN * between as f64
}

/// What the arcs add to it.
fn arc_cost(arcs: usize, residuals: usize) -> f64 {
    const FIRST_ARC: f64 = 4.0;
    const FURTHER_ARC: f64 = 1.5;
    let margin = match arcs {
        0 => 0.0,
        _ => FIRST_ARC + FURTHER_ARC * (arcs - 1) as f64,
    };
    3.0 * (residuals as f64).ln() * arcs as f64 + margin
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
    judged: noise::Judged,
    /// Itself, to be fitted again.
    own: FormFit,
    /// Its arcs with a straight piece wherever one may stand.
    form: FormFit,
}

/// Least number of points for a fit (docs/methods.md 2).
const LEAST_POINTS: usize = 4;

/// A fitted path with its uncertainty and the competition it won.
#[derive(Clone, Debug)]
pub struct PathFit {
    path: StraightArcPath,
    straight_arc: StraightArcPath,
    form: FormFit,
    covariance: Option<[Row; MAX_PARAMETERS]>,
    chi_square: f64,
    turn_sd_if_straight_rad: Option<f64>,
    candidates: Vec<Candidate>,
    local_scatter_ratio: f64,
    family: Family,
    check: FitCheck,
}

/// Fits the best path of straight pieces and arcs to a trace of four or more
/// points in order.
///
/// # Errors
/// [`FitError`] for unusable points or options, or when no structure
/// came to a finite χ².
pub fn fit_path(points: &[Point], options: &FitOptions) -> Result<PathFit, FitError> {
    fit_weighted_path(points, &[], options)
}

/// As [`fit_path`], to points of unequal standard uncertainty. `weights` are
/// (point_sd/u)² of each point, u its own standard uncertainty across the path;
/// empty: 1 each.
///
/// # Errors
/// As [`fit_path`], and [`FitError::PointCount`] for another number of weights.
pub fn fit_weighted_path(
    points: &[Point],
    weights: &[f64],
    options: &FitOptions,
) -> Result<PathFit, FitError> {
    check_points(points, LEAST_POINTS)?;
    if !(options.point_sd.is_finite() && options.point_sd > 0.0) {
        return Err(FitError::PointSd {
            given: options.point_sd,
        });
    }
    if !weights.is_empty() && weights.len() != points.len() {
        return Err(FitError::PointCount {
            expected: points.len(),
            given: weights.len(),
        });
    }
    search::best_fit(points, weights, options)
}

impl PathFit {
    /// The fitted path: of the likeliest form.
    pub fn path(&self) -> &StraightArcPath {
        &self.path
    }

    /// The best path of straight pieces and arcs.
    pub fn straight_arc(&self) -> &StraightArcPath {
        &self.straight_arc
    }

    /// The forms that the points leave possible, with their shares; the
    /// likeliest first. Without a bend none is straight: no canal is straight to
    /// the last digit.
    pub fn forms(&self) -> &[WeightedForm] {
        &self.family.forms
    }

    /// Whether the likeliest form is smooth.
    pub fn is_smooth(&self) -> bool {
        self.family.is_smooth()
    }

    /// Share of the smooth forms.
    pub fn smooth_share(&self) -> f64 {
        self.family.smooth_share
    }

    /// What the points say against the fit.
    pub fn check(&self) -> &FitCheck {
        &self.check
    }

    /// Standard deviation of the points about the forms, over that stated.
    pub fn scatter_ratio(&self) -> f64 {
        self.family.scatter_ratio
    }

    /// The same about the cubic through each point's neighbours: without any
    /// model of the path. Infinite where the points are too few.
    pub fn local_scatter_ratio(&self) -> f64 {
        self.local_scatter_ratio
    }

    /// Its structure.
    pub fn structure(&self) -> &Structure {
        self.form.structure()
    }

    /// The parameters, in the order of [`Structure::parameters`].
    pub fn parameters(&self) -> &[f64] {
        self.form.parameters()
    }

    /// Covariance of two parameters by index, at the standard deviation of a
    /// point the fit was told; `None` when the points do not determine all
    /// parameters, or for an index out of range.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let count = self.form.structure.parameter_count();
        (i < count && j < count).then_some(())?;
        self.covariance.map(|matrix| matrix[i][j])
    }

    /// A path that the points leave possible: of the form that a `share` from 0
    /// to 1 falls on, through points drawn about its feet; `standard_normal`
    /// gives the deviates. `None` without a bent form.
    pub fn drawn_path(
        &self,
        mut share: f64,
        standard_normal: &mut impl FnMut() -> f64,
    ) -> Option<StraightArcPath> {
        let forms = self.forms();
        let reached = forms.iter().position(|form| {
            share -= form.share;
            share <= 0.0
        });
        let form = &forms[reached.unwrap_or(forms.len().checked_sub(1)?)];
        let sd = self.form.point_sd * self.scatter_ratio().max(1.0);
        let weights = &self.form.weights;
        let shaken = form.feet.iter().enumerate().map(|(index, foot)| {
            let sd = sd / weights.get(index).copied().unwrap_or(1.0).sqrt();
            *foot + kurbo::Vec2::new(sd * standard_normal(), sd * standard_normal())
        });
        let points: Vec<Point> = shaken.collect();
        let shape = std::array::from_fn(|_| standard_normal());
        form.refit(&points, &shape).ok()
    }

    /// Standard uncertainty of the net turn from start to end, rad; for a path
    /// without arcs that of the turn of one arc all along it. `None` when the
    /// points do not determine all parameters.
    pub fn net_turn_sd_rad(&self) -> Option<f64> {
        if self.form.structure.arc_count() == 0 {
            return self.turn_sd_if_straight_rad;
        }
        let is_turn = |(i, parameter)| matches!(parameter, Parameter::TurnRad { .. }).then_some(i);
        let turns = || {
            self.form
                .structure
                .parameters()
                .enumerate()
                .filter_map(is_turn)
        };
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
        (self.form.point_count + 2).saturating_sub(self.form.structure.parameter_count())
    }

    /// The structures that were fitted, best first.
    pub fn candidates(&self) -> &[Candidate] {
        &self.candidates
    }

    /// The fitted form, to be fitted again to other points near the first
    /// ones.
    pub fn form(&self) -> &FormFit {
        &self.form
    }
}

impl Candidate {
    /// Kind of the model: whether it starts and ends straight.
    fn class(&self) -> usize {
        let is_straight =
            |kind: Option<&PieceKind>| usize::from(kind == Some(&PieceKind::Straight));
        let kinds = self.structure.kinds();
        2 * is_straight(kinds.first()) + is_straight(kinds.last())
    }

    /// The candidate's arcs with a straight piece wherever one may stand, to
    /// be fitted again: where the fit found none other points may still show
    /// one.
    pub fn form(&self) -> &FormFit {
        &self.form
    }
}
