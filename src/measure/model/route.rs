//! The way along a canal at one draw: the curve on the film with what the film
//! hides of it.

use kurbo::{Point, Vec2};

use crate::measure::depth::{DepthProfile, InSpace};
use crate::measure::path::{ProlongedCurve, Station};

/// A canal's path with what the film hides of it; lengths in detector units.
pub struct MeasuredRoute<'a> {
    pub path: ProlongedCurve<'a>,
    pub depth: DepthProfile,
    /// On the film.
    pub length: f64,
    /// Share of a length along it that is not click noise.
    pub without_noise: f64,
    /// What the last piece to the apex is longer than it looks.
    pub beyond_canal: f64,
    /// What lies coronal to its start.
    pub coronal: Coronal,
}

/// The straight way from a place coronal to the path to where the path starts:
/// the root tilts away from the source there, or towards it.
#[derive(Clone, Copy, Debug)]
pub struct Coronal {
    pub tilt_rad: f64,
    /// Depth of the path's start, detector units.
    pub start_depth: f64,
    /// Detector units times this are shares of the distance from the source.
    pub source_per_detector: f64,
}

impl Coronal {
    /// Length in space of a straight way `length` long on the film.
    pub fn in_space(&self, length: f64) -> f64 {
        let depth = self.start_depth - 0.5 * length * self.tilt_rad.tan();
        length * self.tilt_rad.cos().recip() * (1.0 - 2.0 * depth * self.source_per_detector)
    }
}

/// A way on the film and in space.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Way {
    pub on_film: f64,
    pub in_space: f64,
}

impl MeasuredRoute<'_> {
    pub fn start(&self) -> Point {
        self.path.start()
    }

    pub fn station(&self, point: Point) -> Station {
        self.path.station(point)
    }

    /// From the start to a place `length_at` along the path on the film.
    pub fn in_space(&self, length_at: f64) -> InSpace {
        self.depth.at(length_at / self.length) * self.length
    }

    /// From a place to where the path starts; negative for a place along the
    /// path.
    pub fn to_start(&self, place: Point, on_path: bool) -> Way {
        if on_path {
            let station = self.station(place).length_at;
            Way {
                on_film: -station,
                in_space: -self.in_space(station).length,
            }
        } else {
            let straight = place.distance(self.start());
            Way {
                on_film: straight,
                in_space: self.coronal.in_space(straight),
            }
        }
    }
}

/// What the way from the canal's end to the apex, `foramen_to_apex` long where
/// it runs straight on, is longer for lying to the side: across the canal's end
/// in the film's plane, where a trace cuts the corner, and in depth, which the
/// film hides.
pub fn beyond_canal([x, y, depth]: [f64; 3], end_direction: Vec2, foramen_to_apex: f64) -> f64 {
    let across = end_direction.cross(Vec2::new(x, y));
    foramen_to_apex.hypot(across).hypot(depth) - foramen_to_apex
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::DrawnCurve;
    use crate::measure::depth::Start;

    /// Closed form: 0.3 to the side and 0.4 in depth of a way of 1.2 make
    /// √(1.2² + 0.5²) = 1.3.
    #[test]
    fn a_way_to_the_side_is_longer() {
        let found = beyond_canal([0.3, 5.0, 0.4], Vec2::new(0.0, 1.0), 1.2);
        assert!((found - 0.1).abs() < 1e-12);
        assert_eq!(beyond_canal([0.0; 3], Vec2::new(0.0, 1.0), 0.5), 0.0);
    }

    /// Closed form: a straight path of 10 tilted by 60° is twice as long in
    /// space, and so is a straight way before it; a place on the path counts
    /// backwards.
    #[test]
    fn ways_to_the_start() {
        let tilt_rad = 60f64.to_radians();
        let curve = DrawnCurve::through(&[Point::new(0.0, 0.0), Point::new(0.0, 10.0)]).unwrap();
        let start = Start {
            tilt_rad,
            depth: 0.0,
        };
        let route = MeasuredRoute {
            path: ProlongedCurve::new(&curve, None),
            depth: DepthProfile::new(None, start, &[0.0; 3], 0.0),
            length: 10.0,
            without_noise: 1.0,
            beyond_canal: 0.0,
            coronal: Coronal {
                tilt_rad,
                start_depth: 0.0,
                source_per_detector: 0.0,
            },
        };
        let before = route.to_start(Point::new(0.0, -4.0), false);
        assert!((before.on_film - 4.0).abs() < 1e-12 && (before.in_space - 8.0).abs() < 1e-9);
        let along = route.to_start(Point::new(0.3, 2.5), true);
        // The steepest angle considered is 1.05 rad, just above 60°.
        assert!((along.on_film + 2.5).abs() < 1e-9 && (along.in_space + 5.0).abs() < 1e-9);
    }
}
