//! From a film's px to mm of the tooth's plane, apex down, and back.

use kurbo::Point;
use nalgebra::Vector2;

use crate::calibration::DetectorFrame;
use crate::units::FilmPoint;

/// The plane of the tooth behind one film: mm from the film's centre, u across
/// and v down, the film turned by quarter turns so that the apex is down.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmPlane {
    pub frame: DetectorFrame,
    pub mm_per_detector: f64,
    pub centre: FilmPoint,
    /// Clockwise.
    pub quarter_turns: u8,
    /// Seen from behind: left and right changed.
    pub is_mirrored: bool,
}

impl FilmPlane {
    /// The place of a film point, mm.
    pub fn mm_from_film(&self, point: FilmPoint) -> Vector2<f64> {
        let [at, centre] = [point, self.centre].map(|p| self.frame.detector_from_film(p));
        let offset = (at - centre) * self.mm_per_detector;
        // Clockwise with y down: (x, y) → (−y, x).
        let turned = match self.quarter_turns {
            0 => Vector2::new(offset.x, offset.y),
            1 => Vector2::new(-offset.y, offset.x),
            2 => Vector2::new(-offset.x, -offset.y),
            _ => Vector2::new(offset.y, -offset.x),
        };
        match self.is_mirrored {
            true => Vector2::new(-turned.x, turned.y),
            false => turned,
        }
    }

    /// The film point of a place.
    pub fn film_from_mm(&self, at: Vector2<f64>) -> FilmPoint {
        let u = if self.is_mirrored { -at.x } else { at.x };
        let [x, y] = match self.quarter_turns {
            0 => [u, at.y],
            1 => [at.y, -u],
            2 => [-u, -at.y],
            _ => [-at.y, u],
        };
        let centre = self.frame.detector_from_film(self.centre);
        let detector = Point::new(
            centre.x + x / self.mm_per_detector,
            centre.y + y / self.mm_per_detector,
        );
        self.frame.film_from_detector(detector)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn film_to_tooth_and_back_is_the_same_place() {
        for quarter_turns in 0..4 {
            for is_mirrored in [false, true] {
                let plane = FilmPlane {
                    frame: DetectorFrame::with_pitch([0.03, 0.04]),
                    mm_per_detector: 0.93,
                    centre: FilmPoint::new(400.0, 600.0),
                    quarter_turns,
                    is_mirrored,
                };
                let at = FilmPoint::new(123.0, 987.0);
                let back = plane.film_from_mm(plane.mm_from_film(at));
                assert!(back.distance_px(at) < 1e-9, "{quarter_turns} {back:?}");
            }
        }
    }

    /// A quarter turn clockwise brings what was on the film's right down.
    #[test]
    fn the_apex_comes_down() {
        let plane = FilmPlane {
            frame: DetectorFrame::with_pitch([0.1, 0.1]),
            mm_per_detector: 1.0,
            centre: FilmPoint::new(100.0, 100.0),
            quarter_turns: 1,
            is_mirrored: false,
        };
        let down = plane.mm_from_film(FilmPoint::new(150.0, 100.0));
        assert!((down - Vector2::new(0.0, 5.0)).norm() < 1e-12, "{down}");
    }
}
