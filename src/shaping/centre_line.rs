//! The centre line before shaping: where levels are counted and sections are
//! laid.

use kurbo::{Point, Vec2};

use crate::geometry::{
    DrawnCurve, FitOptions, GeometryError, PathFit, StraightArcPath, fit_path, right_of,
};

/// The centre line, orifice → end, mm.
#[derive(Clone, Debug)]
pub enum CentreLine {
    /// Straight pieces and arcs fitted to the points: its direction is not
    /// thrown about by the noise of single points.
    Fitted(Box<PathFit>),
    /// Too few points for a fit.
    Drawn(DrawnCurve),
}

/// A place on the centre line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// The place, mm.
    pub point: Point,
    /// Unit direction towards the end.
    pub direction: Vec2,
}

impl Station {
    /// Unit direction to the right-hand side.
    pub fn right(&self) -> Vec2 {
        right_of(self.direction)
    }
}

impl CentreLine {
    /// The centre line of a trace whose points have the standard deviation
    /// `point_sd` per coordinate.
    ///
    /// # Errors
    /// Fewer than two points, or points on each other.
    pub fn new(points: &[Point], point_sd: f64) -> Result<Self, GeometryError> {
        if points.len() >= 4
            && let Ok(fit) = fit_path(points, &FitOptions::new(point_sd.max(1e-6)))
        {
            return Ok(Self::Fitted(Box::new(fit)));
        }
        DrawnCurve::through(points).map(Self::Drawn)
    }

    /// The fitted path.
    pub fn path(&self) -> Option<&StraightArcPath> {
        match self {
            Self::Fitted(fit) => Some(fit.straight_arc()),
            Self::Drawn(_) => None,
        }
    }

    /// Length.
    pub fn length(&self) -> f64 {
        match self {
            Self::Fitted(fit) => fit.straight_arc().length(),
            Self::Drawn(curve) => curve.length(),
        }
    }

    /// The place `from_end` along it, counted from its end.
    pub fn station(&self, from_end: f64) -> Station {
        match self {
            Self::Fitted(fit) => path_station(fit.straight_arc(), from_end),
            Self::Drawn(curve) => {
                let length = curve.length() - from_end;
                Station {
                    point: curve.point_at_length(length),
                    direction: curve.tangent_at_length(length),
                }
            }
        }
    }

    /// Length from the end to the place nearest to `point`; negative beyond
    /// the end.
    pub fn from_end(&self, point: Point) -> f64 {
        match self {
            Self::Fitted(fit) => {
                fit.straight_arc().length() - fit.straight_arc().project(point).length_at
            }
            Self::Drawn(curve) => curve.length() - curve.project(point).length_at,
        }
    }

    /// A centre line drawn about the fitted one, as its points leave it open.
    pub fn drawn(&self, standard_normal: impl FnMut() -> f64) -> Option<StraightArcPath> {
        match self {
            Self::Fitted(fit) => fit.drawn_straight_arc(standard_normal),
            Self::Drawn(_) => None,
        }
    }
}

/// The place `from_end` along a path, counted from its end.
pub fn path_station(path: &StraightArcPath, from_end: f64) -> Station {
    let pose = path.pose_at_length(path.length() - from_end);
    Station {
        point: pose.point,
        direction: pose.direction,
    }
}
