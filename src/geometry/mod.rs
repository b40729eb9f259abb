//! Plane geometry of canals: the drawn curve, the straight/arc path and its
//! least-squares fit (docs/methods.md 2).
//!
//! Frame-neutral: a [`kurbo::Point`] is in any isotropic unit, in practice mm
//! in the tooth frame (x right, y down). Headings are `atan2(dy, dx)` in rad,
//! so a positive turn is clockwise on the film, and a positive side or offset
//! lies to the right of the direction of travel.
//!
//! Two curves go through one trace, and each is right for one thing only. The
//! [`DrawnCurve`] interpolates the points and gives every *length*; between
//! noisy points it bends too much to give an angle. The fitted
//! [`StraightArcPath`] passes near the points and gives every *angle and
//! radius*.

mod drawn_curve;
mod fit;
mod straight_arc_path;
mod widths;

use kurbo::{Point, Vec2};
use thiserror::Error;

pub use drawn_curve::DrawnCurve;
pub use fit::{
    Candidate, FitCheck, FitError, FitOptions, Form, FormFit, MAX_PARAMETERS, Parameter, PathFit,
    PieceKind, SHAPE_MODES, SmoothForm, Structure, WeightedForm, fit_path, fit_weighted_path,
    local_scatter_ratio,
};
pub use straight_arc_path::{MAX_ARCS, MAX_PIECES, Piece, Pose, StraightArcPath};
pub use widths::{WallLine, WidthError, WidthProfile, mean_width_at_end};

/// Why no curve could be made of the points or pieces given.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum GeometryError {
    /// Fewer points than the curve needs.
    #[error("{given} points given; at least {needed} are needed")]
    TooFewPoints {
        /// Least number of points.
        needed: usize,
        /// Number of points given.
        given: usize,
    },
    /// A coordinate is NaN or infinite, or so large that distances overflow.
    #[error("point {} is not a finite place", index + 1)]
    NotFinite {
        /// Index of the first such point.
        index: usize,
    },
    /// A point lies on the one before it.
    #[error("points {} and {} lie on each other", second, second + 1)]
    Coincident {
        /// Index of the later of the two.
        second: usize,
    },
    /// A piece of a path has a negative or non-finite length or turn.
    #[error("piece {} of the path has no valid length or turn", index + 1)]
    InvalidPiece {
        /// Index of the first such piece.
        index: usize,
    },
    /// A path needs one piece and has room for [`MAX_PIECES`].
    #[error("a path has 1 to {MAX_PIECES} pieces; {given} given")]
    PieceCount {
        /// Number of pieces given.
        given: usize,
    },
}

/// The place of a curve nearest to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Projection {
    /// Length from the curve's start to the foot; negative before the start
    /// and above the curve's length beyond the end (on the end tangents).
    pub length_at: f64,
    /// The foot: the nearest place on the curve or its prolongations.
    pub foot: Point,
    /// Signed distance from the foot to the point: positive to the right of
    /// the direction of travel (clockwise on the film).
    pub offset: f64,
}

impl Projection {
    /// Distance from the point to the foot, not negative.
    pub fn distance(&self) -> f64 {
        self.offset.abs()
    }

    /// The foot at `length_at`, seen from a curve with unit `tangent` there.
    fn new(length_at: f64, foot: Point, tangent: Vec2, point: Point) -> Self {
        let away = point - foot;
        Self {
            length_at,
            foot,
            offset: away.hypot().copysign(tangent.cross(away)),
        }
    }
}

/// `v` turned a quarter clockwise on the film: the side offsets count positive.
pub(crate) fn right_of(v: Vec2) -> Vec2 {
    Vec2::new(-v.y, v.x)
}

/// `v` scaled to length 1; zero stays zero.
pub(crate) fn unit(v: Vec2) -> Vec2 {
    let length = v.hypot();
    if length > 0.0 { v / length } else { Vec2::ZERO }
}

/// Largest coordinate that distances and their squares can be formed of.
const LARGEST_COORDINATE: f64 = 1e100;

/// Checks that `points` are at least `needed` usable places, no two
/// neighbours alike.
fn check_points(points: &[Point], needed: usize) -> Result<(), GeometryError> {
    if points.len() < needed {
        return Err(GeometryError::TooFewPoints {
            needed,
            given: points.len(),
        });
    }
    let usable = |p: &Point| p.x.abs() <= LARGEST_COORDINATE && p.y.abs() <= LARGEST_COORDINATE;
    if let Some(index) = points.iter().position(|p| !usable(p)) {
        return Err(GeometryError::NotFinite { index });
    }
    // Closer than rounding leaves of a difference is no direction at all.
    let coincident = |pair: &[Point]| {
        let size = pair[1].x.abs().max(pair[1].y.abs());
        pair[0].distance(pair[1]) <= 1e-12 * size || pair[0] == pair[1]
    };
    match points.windows(2).position(coincident) {
        Some(first) => Err(GeometryError::Coincident { second: first + 1 }),
        None => Ok(()),
    }
}
