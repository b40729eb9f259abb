//! The way a tip travels: a drawn curve, prolonged at its apical end.

use kurbo::{Point, Vec2};

use crate::geometry::DrawnCurve;

/// A drawn curve whose apical prolongation follows a steadier direction than
/// the spline's own end tangent: the fitted curve's last tangent (docs/methods.md 4).
#[derive(Clone, Copy, Debug)]
pub struct ProlongedCurve<'a> {
    curve: &'a DrawnCurve,
    end_direction: Vec2,
}

/// Where a point stands along a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Length from the path's start; negative before it, above the curve's
    /// length beyond its end. Detector units.
    pub length_at: f64,
    /// Distance from the path, not negative. Detector units.
    pub distance: f64,
}

impl<'a> ProlongedCurve<'a> {
    /// The path along `curve` that leaves it in `end_direction` (unit), or
    /// along its own end tangent.
    pub fn new(curve: &'a DrawnCurve, end_direction: Option<Vec2>) -> Self {
        Self {
            curve,
            end_direction: end_direction.unwrap_or_else(|| curve.tangent_at_length(curve.length())),
        }
    }

    /// Where the path starts.
    pub fn start(&self) -> Point {
        self.curve.start()
    }

    /// Direction (unit) in which it is prolonged beyond its end.
    pub fn end_direction(&self) -> Vec2 {
        self.end_direction
    }

    /// Straight distance from its start to its end.
    pub fn chord(&self) -> f64 {
        self.curve.chord()
    }

    /// The station nearest to `point`.
    pub fn station(&self, point: Point) -> Station {
        let on_curve = self.curve.project(point);
        let end = self.curve.end();
        let beyond = (point - end).dot(self.end_direction);
        if on_curve.length_at < self.curve.length() || beyond <= 0.0 {
            return Station {
                length_at: on_curve.length_at.min(self.curve.length()),
                distance: on_curve.distance(),
            };
        }
        let foot = end + self.end_direction * beyond;
        Station {
            length_at: self.curve.length() + beyond,
            distance: point.distance(foot),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a straight path along +y, prolonged at 45°.
    #[test]
    fn beyond_the_end_the_given_direction_counts() {
        let curve = DrawnCurve::through(&[Point::new(0.0, 0.0), Point::new(0.0, 10.0)]).unwrap();
        let diagonal = Vec2::new(1.0, 1.0).normalize();
        let path = ProlongedCurve::new(&curve, Some(diagonal));
        let short = path.station(Point::new(0.3, 8.5));
        assert!((short.length_at - 8.5).abs() < 1e-9 && (short.distance - 0.3).abs() < 1e-9);
        let beyond = path.station(Point::new(0.0, 10.0) + diagonal * 0.7);
        assert!((beyond.length_at - 10.7).abs() < 1e-9 && beyond.distance < 1e-9);
        let own = ProlongedCurve::new(&curve, None).station(Point::new(0.2, 11.0));
        assert!((own.length_at - 11.0).abs() < 1e-9 && (own.distance - 0.2).abs() < 1e-9);
    }
}
