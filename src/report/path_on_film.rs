//! A canal's path as it is drawn on the film, addressed by distance.

use kurbo::{BezPath, Point, Vec2};

use crate::case::{Canal, Case};

/// The path of one canal in film px, orifice → apex, with the straight lead
/// from the reference point.
///
/// Distances are in px of the columns; rows count by their pitch where it
/// differs.
pub struct PathOnFilm {
    points: Vec<Point>,
    /// Distance of each point from the first.
    along: Vec<f64>,
    reference: Option<Point>,
    /// Row pitch / column pitch.
    aspect: f64,
}

impl PathOnFilm {
    /// The path of a canal; `None` with fewer than two points.
    pub fn new(case: &Case, canal: &Canal) -> Option<Self> {
        let aspect = match case.film.pixel_pitch_mm {
            Some([row, column]) if row > 0.0 && column > 0.0 => row / column,
            _ => 1.0,
        };
        let points: Vec<Point> = canal
            .trace_px
            .iter()
            .filter(|p| p.is_finite())
            .map(|p| Point::new(p.x, p.y))
            .collect();
        if points.len() < 2 {
            return None;
        }
        let mut path = Self {
            points,
            along: Vec::new(),
            reference: canal.reference_px.map(|p| Point::new(p.x, p.y)),
            aspect,
        };
        let mut travelled = 0.0;
        path.along = std::iter::once(0.0)
            .chain(path.points.windows(2).map(|pair| {
                travelled += path.distance(pair[0], pair[1]);
                travelled
            }))
            .collect();
        Some(path)
    }

    fn distance(&self, a: Point, b: Point) -> f64 {
        let step = b - a;
        step.x.hypot(step.y * self.aspect)
    }

    /// First point of the path.
    pub fn start(&self) -> Point {
        self.points[0]
    }

    /// Length from first to last point.
    pub fn length_px(&self) -> f64 {
        self.along.last().copied().unwrap_or(0.0)
    }

    /// Distance from the reference point to the start of the path.
    pub fn lead_px(&self) -> f64 {
        self.reference
            .map_or(0.0, |reference| self.distance(reference, self.start()))
    }

    /// The path to be drawn.
    pub fn outline(&self) -> BezPath {
        let mut path = BezPath::new();
        path.move_to(self.start());
        for &point in &self.points[1..] {
            path.line_to(point);
        }
        path
    }

    /// The place `distance_px` before the end of the path, and the unit normal
    /// to the right of the direction of travel as seen on the film.
    pub fn at_from_end(&self, distance_px: f64) -> Option<(Point, Vec2)> {
        self.at(self.length_px() - distance_px)
    }

    /// The place `distance_px` from the reference point, first along the lead.
    pub fn at_from_reference(&self, distance_px: f64) -> Option<(Point, Vec2)> {
        let reference = self.reference?;
        let lead_px = self.lead_px();
        if distance_px >= lead_px {
            return self.at(distance_px - lead_px);
        }
        let step = self.start() - reference;
        Some((
            reference + step * (distance_px / lead_px),
            right_of(step),
        ))
    }

    fn at(&self, from_start_px: f64) -> Option<(Point, Vec2)> {
        if !(0.0..=self.length_px()).contains(&from_start_px) {
            return None;
        }
        let next = self
            .along
            .partition_point(|&s| s < from_start_px)
            .clamp(1, self.points.len() - 1);
        let (a, b) = (self.points[next - 1], self.points[next]);
        let piece = self.along[next] - self.along[next - 1];
        let share = if piece > 0.0 {
            (from_start_px - self.along[next - 1]) / piece
        } else {
            0.0
        };
        Some((a + (b - a) * share, right_of(b - a)))
    }
}

/// Unit normal to the viewer's right of a path that runs down the film.
fn right_of(direction: Vec2) -> Vec2 {
    let length = direction.hypot();
    if length > 0.0 {
        Vec2::new(direction.y, -direction.x) / length
    } else {
        Vec2::new(1.0, 0.0)
    }
}
