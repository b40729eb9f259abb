//! From px to true mm: pixel pitch, objects of known size, magnification.
//!
//! Two steps (docs/methods.md 1, 3). [`DetectorFrame`] makes px isotropic: mm at
//! the detector where a pitch is known, px otherwise. A [`Scale`] then turns
//! detector units into true mm in the tooth's plane, from objects of known
//! size or from what is known about the exposure.

mod ball;
mod film_scale;
mod objects;

use kurbo::Point;

pub use ball::{circle_radius, rim_span_rad, u_diameter};
pub use film_scale::{EarlierScale, FilmScale, TypedScale, film_scales};
pub use objects::{
    Disagreement, KnownObject, LEAST_RELATIVE_U, MeasuredObject, combine, disagreement,
};

use crate::units::FilmPoint;

/// Plausible magnification of a periapical film (docs/methods.md 3): below 1 means
/// foreshortening or a wrong entry.
pub const PLAUSIBLE_MAGNIFICATION: (f64, f64) = (1.00, 1.15);

/// The unit of the detector frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DetectorUnit {
    /// A pitch is known: mm in the plane the pitch speaks of.
    Mm,
    /// No pitch is known: px, taken as square.
    Px,
}

/// Maps the film frame (px) to the isotropic detector frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DetectorFrame {
    column_pitch: f64,
    row_pitch: f64,
    unit: DetectorUnit,
}

impl DetectorFrame {
    /// mm at the detector, from the pitch `[row, column]` in mm (the order of
    /// PS3.3 10.7.1.3).
    pub fn with_pitch([row_mm, column_mm]: [f64; 2]) -> Self {
        Self {
            column_pitch: column_mm,
            row_pitch: row_mm,
            unit: DetectorUnit::Mm,
        }
    }

    /// px, where no pitch is known.
    pub fn without_pitch() -> Self {
        Self {
            column_pitch: 1.0,
            row_pitch: 1.0,
            unit: DetectorUnit::Px,
        }
    }

    /// The unit of the detector frame.
    pub fn unit(&self) -> DetectorUnit {
        self.unit
    }

    /// The place of a film point in the detector frame.
    pub fn detector_from_film(&self, point: FilmPoint) -> Point {
        Point::new(point.x * self.column_pitch, point.y * self.row_pitch)
    }

    /// The film point of a place in the detector frame.
    pub fn film_from_detector(&self, point: Point) -> FilmPoint {
        FilmPoint::new(point.x / self.column_pitch, point.y / self.row_pitch)
    }

    /// Mean size of a pixel in detector units: the geometric mean of the two
    /// pitches.
    pub fn mean_pitch(&self) -> f64 {
        (self.column_pitch * self.row_pitch).sqrt()
    }
}

/// Magnification M = SID / SOD (PS3.3 C.8.7.6).
///
/// `None` unless both distances are positive and the source is farther from
/// the detector than from the tooth.
pub fn magnification_from_distances(
    source_to_detector_mm: f64,
    source_to_tooth_mm: f64,
) -> Option<f64> {
    let usable = source_to_tooth_mm > 0.0
        && source_to_detector_mm >= source_to_tooth_mm
        && source_to_detector_mm.is_finite();
    usable.then(|| source_to_detector_mm / source_to_tooth_mm)
}

/// Length on the detector of a tooth tilted by `tilt_rad` against the
/// detector, beam normal to the detector: L′ = L · cos τ · M (DERIVED).
pub fn apparent_length_mm(true_length_mm: f64, tilt_rad: f64, magnification: f64) -> f64 {
    true_length_mm * tilt_rad.cos() * magnification
}

/// Grossman's proportion: true tooth = true instrument × tooth on the film /
/// instrument on the film, both measured along their paths (SEEN-2,
/// docs/references.md).
pub fn grossman_mm(true_instrument_mm: f64, tooth_on_film: f64, instrument_on_film: f64) -> f64 {
    true_instrument_mm * tooth_on_film / instrument_on_film
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Table of M = SID/SOD with SOD = SID − OFD, and of what
    /// 21 mm shows as (textbook geometry, DERIVED).
    #[test]
    fn magnification_table() {
        for (sid, ofd, m, shows) in [
            (200.0, 5.0, 1.02564, 21.538),
            (200.0, 10.0, 1.05263, 22.105),
            (200.0, 15.0, 1.08108, 22.703),
            (300.0, 15.0, 1.05263, 22.105),
            (400.0, 10.0, 1.02564, 21.538),
            (400.0, 15.0, 1.03896, 21.818),
            (400.0, 20.0, 1.05263, 22.105),
        ] {
            let found = magnification_from_distances(sid, sid - ofd).unwrap();
            assert!((found - m).abs() < 5e-6);
            assert!((apparent_length_mm(21.0, 0.0, found) - shows).abs() < 5e-4);
        }
    }

    /// Cosine factors of tilt (closed form).
    #[test]
    fn tilt_shortens_by_its_cosine() {
        for (degrees, factor) in [
            (5.0_f64, 0.99619),
            (10.0, 0.98481),
            (15.0, 0.96593),
            (20.0, 0.93969),
            (30.0, 0.86603),
        ] {
            assert!((apparent_length_mm(1.0, degrees.to_radians(), 1.0) - factor).abs() < 5e-6);
        }
    }

    /// Worked values of Grossman's proportion (DERIVED).
    #[test]
    fn grossman_worked_values() {
        for (instrument, tooth_on_film, instrument_on_film, tooth) in [
            (20.0, 22.0, 21.0, 20.952),
            (21.0, 23.1, 22.05, 22.000),
            (15.0, 24.0, 16.0, 22.500),
            (22.0, 24.2, 23.1, 23.048),
        ] {
            let found = grossman_mm(instrument, tooth_on_film, instrument_on_film);
            assert!((found - tooth).abs() < 5e-4);
        }
    }

    #[test]
    fn impossible_distances_give_no_magnification() {
        for (sid, sod) in [
            (200.0, 210.0),
            (200.0, 0.0),
            (-200.0, -190.0),
            (f64::NAN, 190.0),
            (200.0, f64::NAN),
            (f64::INFINITY, 190.0),
        ] {
            assert_eq!(magnification_from_distances(sid, sod), None);
        }
    }

    proptest! {
        #[test]
        fn detector_and_film_frames_are_inverse(
            x in -1e4..1e4, y in -1e4..1e4, row in 0.005..0.2, column in 0.005..0.2,
        ) {
            let frame = DetectorFrame::with_pitch([row, column]);
            let back = frame.film_from_detector(frame.detector_from_film(FilmPoint::new(x, y)));
            prop_assert!((back.x - x).abs() < 1e-9 && (back.y - y).abs() < 1e-9);
        }
    }

    /// PS3.3 10.7.1.3: DICOM gives the row spacing first, and it scales y.
    #[test]
    fn row_pitch_scales_y() {
        let frame = DetectorFrame::with_pitch([0.03, 0.02]);
        assert_eq!(
            frame.detector_from_film(FilmPoint::new(100.0, 100.0)),
            Point::new(2.0, 3.0)
        );
    }
}
