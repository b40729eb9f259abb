//! A canal's drawn curve on the film, addressed by distance.

use kurbo::{Affine, BezPath, Point, Vec2};

use crate::calibration::DetectorFrame;
use crate::case::Canal;
use crate::geometry::DrawnCurve;
use crate::units::FilmPoint;

/// The drawn curve of one canal, orifice → apex, with the straight lead from
/// the reference point. Distances are in detector units, places in film px.
pub struct PathOnFilm {
    frame: DetectorFrame,
    curve: DrawnCurve,
    reference: Option<Point>,
}

impl PathOnFilm {
    /// The path of a canal; `None` where no curve goes through its points.
    pub fn new(frame: DetectorFrame, canal: &Canal) -> Option<Self> {
        let points: Vec<Point> = canal
            .trace_px
            .iter()
            .map(|&p| frame.detector_from_film(p))
            .collect();
        Some(Self {
            curve: DrawnCurve::through(&points).ok()?,
            reference: canal.reference_px.map(|p| frame.detector_from_film(p)),
            frame,
        })
    }

    /// Length orifice → apex, detector units.
    pub fn length(&self) -> f64 {
        self.curve.length()
    }

    /// Distance from the reference point to the orifice, detector units.
    pub fn lead(&self) -> f64 {
        self.reference
            .map_or(0.0, |reference| reference.distance(self.curve.start()))
    }

    /// The curve in film px.
    pub fn outline(&self) -> BezPath {
        let corner = self.film(Point::new(1.0, 1.0));
        Affine::scale_non_uniform(corner.x, corner.y) * self.curve.to_bez_path()
    }

    /// First point, film px.
    pub fn start(&self) -> Point {
        self.film(self.curve.start())
    }

    /// The place `distance` before the apex, and the unit normal to the right
    /// of the direction of travel as seen on the film.
    pub fn at_from_end(&self, distance: f64) -> Option<(Point, Vec2)> {
        self.at(self.curve.length() - distance)
    }

    /// The place `distance` from the reference point, first along the lead.
    pub fn at_from_reference(&self, distance: f64) -> Option<(Point, Vec2)> {
        let reference = self.reference?;
        let lead = self.lead();
        if distance >= lead {
            return self.at(distance - lead);
        }
        let step = self.curve.start() - reference;
        let place = reference + step * (distance / lead);
        Some((self.film(place), self.right_of(place, step)))
    }

    fn at(&self, from_start: f64) -> Option<(Point, Vec2)> {
        if !(0.0..=self.curve.length()).contains(&from_start) {
            return None;
        }
        let place = self.curve.point_at_length(from_start);
        let direction = self.curve.tangent_at_length(from_start);
        Some((self.film(place), self.right_of(place, direction)))
    }

    fn film(&self, point: Point) -> Point {
        let FilmPoint { x, y } = self.frame.film_from_detector(point);
        Point::new(x, y)
    }

    /// Unit normal in film px to the viewer's right of a path down the film.
    fn right_of(&self, place: Point, direction: Vec2) -> Vec2 {
        let step = self.film(place + direction) - self.film(place);
        Vec2::new(step.y, -step.x) / step.hypot().max(f64::MIN_POSITIVE)
    }
}
