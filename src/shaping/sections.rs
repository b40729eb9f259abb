//! Walls cut by sections normal to the centre line.

use kurbo::{BezPath, CubicBez, ParamCurve, PathSeg, Point, Vec2};

use super::centre_line::Station;
use super::measures::Removal;
use crate::geometry::{DrawnCurve, GeometryError};

/// A wall is prolonged straight on by at most this, mm, so that noise in its
/// last point does not take away the level there.
const PROLONGED_MM: f64 = 0.3;

/// Walls farther from the centre line are another canal's, mm: more than half
/// the width of any root.
const FARTHEST_MM: f64 = 6.0;

/// A wall as a curve, mm.
#[derive(Clone, Debug)]
pub struct WallCurve {
    curve: DrawnCurve,
    segments: Vec<CubicBez>,
    ends: [(Point, Vec2); 2],
}

impl WallCurve {
    /// The curve through the points of a wall.
    ///
    /// # Errors
    /// Fewer than two points, or points on each other.
    pub fn new(points: &[Point]) -> Result<Self, GeometryError> {
        let mut wall = Self {
            curve: DrawnCurve::through(points)?,
            segments: Vec::new(),
            ends: [(Point::ZERO, Vec2::ZERO); 2],
        };
        wall.settle();
        Ok(wall)
    }

    /// The same wall through other points, in the same memory.
    pub fn refit(&mut self, points: &[Point]) -> Result<(), GeometryError> {
        self.curve.refit(points)?;
        self.settle();
        Ok(())
    }

    fn settle(&mut self) {
        let path: BezPath = self.curve.to_bez_path();
        self.segments.clear();
        let cubics = path.segments().map(|segment| match segment {
            PathSeg::Cubic(cubic) => cubic,
            other => other.to_cubic(),
        });
        self.segments.extend(cubics);
        let length = self.curve.length();
        self.ends = [
            (self.curve.start(), -self.curve.tangent_at_length(0.0)),
            (self.curve.end(), self.curve.tangent_at_length(length)),
        ];
    }

    /// The drawn curve.
    pub fn curve(&self) -> &DrawnCurve {
        &self.curve
    }

    /// Signed distance from the centre line along the section at `station`,
    /// positive to the right; of several crossings the one nearest to the centre
    /// line. `None` where the wall does not reach the section, or reaches it on a
    /// stretch between two points that is `unseen` (none where it is empty).
    pub fn offset_at(&self, station: &Station, unseen: &[bool]) -> Option<f64> {
        let right = station.right();
        let along = |p: Point| (p - station.point).dot(station.direction);
        let mut nearest: Option<f64> = None;
        let mut offer = |p: Point| {
            let offset = (p - station.point).dot(right);
            if offset.abs() <= FARTHEST_MM && nearest.is_none_or(|n: f64| offset.abs() < n.abs()) {
                nearest = Some(offset);
            }
        };
        for (stretch, cubic) in self.segments.iter().enumerate() {
            if unseen.get(stretch) == Some(&true) {
                continue;
            }
            let [a, b, c, d] = [cubic.p0, cubic.p1, cubic.p2, cubic.p3].map(along);
            // The ends lie on both sides of the section, or on it.
            if a * d <= 0.0 {
                offer(cubic.eval(crossing([a, b, c, d])));
            }
        }
        for (end, outward) in self.ends {
            let distance = -along(end) / outward.dot(station.direction);
            if (0.0..=PROLONGED_MM).contains(&distance) {
                offer(end + outward * distance);
            }
        }
        nearest
    }
}

/// Where a cubic with these Bézier ordinates, the first and the last of opposite
/// sign, is zero: bisection, so that a nearly straight one is no special case.
fn crossing([a, b, c, d]: [f64; 4]) -> f64 {
    let value = |t: f64| {
        let u = 1.0 - t;
        u * u * u * a + 3.0 * u * t * (u * b + t * c) + t * t * t * d
    };
    let rises = d > a;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if (value(middle) < 0.0) == rises {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// What one section shows, mm; NaN where a wall does not reach it or was not
/// seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    pub width_before: f64,
    pub width_after: f64,
    pub removed_left: f64,
    pub removed_right: f64,
    /// Root's outline to the after-wall.
    pub remaining_left: f64,
    pub remaining_right: f64,
}

impl Section {
    /// The section from the offsets of its walls.
    pub fn new(before: [f64; 2], after: [f64; 2], outline: [f64; 2]) -> Self {
        Self {
            width_before: before[1] - before[0],
            width_after: after[1] - after[0],
            removed_left: before[0] - after[0],
            removed_right: after[1] - before[1],
            remaining_left: after[0] - outline[0],
            remaining_right: outline[1] - after[1],
        }
    }

    /// What was removed.
    pub fn removal(&self) -> Removal {
        Removal {
            left_mm: self.removed_left,
            right_mm: self.removed_right,
        }
    }
}
