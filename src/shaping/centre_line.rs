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
    Fitted(Box<FittedLine>),
    /// Too few points for a fit.
    Drawn(DrawnCurve),
}

/// A path of straight pieces and arcs fitted to points.
#[derive(Clone, Debug)]
pub struct FittedLine {
    fit: PathFit,
    /// Where the path passes each of the points, orifice → end.
    feet: Vec<Point>,
    /// Standard deviation of a point per coordinate, not below what the points
    /// scatter by.
    sd: f64,
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
            let path = fit.straight_arc();
            let foot = |p: &Point| path.pose_at_length(path.project(*p).length_at).point;
            return Ok(Self::Fitted(Box::new(FittedLine {
                feet: points.iter().map(foot).collect(),
                sd: point_sd * fit.scatter_ratio().max(1.0),
                fit,
            })));
        }
        DrawnCurve::through(points).map(Self::Drawn)
    }

    /// The fitted path.
    pub fn path(&self) -> Option<&StraightArcPath> {
        match self {
            Self::Fitted(fitted) => Some(fitted.fit.straight_arc()),
            Self::Drawn(_) => None,
        }
    }

    /// Length.
    pub fn length(&self) -> f64 {
        match self {
            Self::Fitted(fitted) => fitted.fit.straight_arc().length(),
            Self::Drawn(curve) => curve.length(),
        }
    }

    /// The place `from_end` along it, counted from its end.
    pub fn station(&self, from_end: f64) -> Station {
        match self {
            Self::Fitted(fitted) => path_station(fitted.fit.straight_arc(), from_end),
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
            Self::Fitted(fitted) => {
                fitted.fit.straight_arc().length()
                    - fitted.fit.straight_arc().project(point).length_at
            }
            Self::Drawn(curve) => curve.length() - curve.project(point).length_at,
        }
    }

    /// How many deviates [`Self::drawn`] takes.
    pub fn deviate_count(&self) -> usize {
        match self {
            Self::Fitted(fitted) => 2 * fitted.feet.len(),
            Self::Drawn(_) => 1,
        }
    }

    /// A centre line that the points leave possible: the path fitted again to
    /// points drawn about those of the fitted one. Drawing its parameters instead
    /// would send a path whose points leave an arc open anywhere.
    pub fn drawn(&self, mut standard_normal: impl FnMut() -> f64) -> Option<StraightArcPath> {
        let Self::Fitted(fitted) = self else {
            return None;
        };
        let sd = fitted.sd;
        let mut shaken =
            |foot: &Point| *foot + Vec2::new(standard_normal(), standard_normal()) * sd;
        let points: Vec<Point> = fitted.feet.iter().map(&mut shaken).collect();
        fitted.fit.form().refit(&points).ok()
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
