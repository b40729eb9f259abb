//! How the second film was taken.

use super::error::TwoViewError;
use super::geometry::Receptor;
use super::words;
use crate::case::SecondFilm;

/// How the second film was taken, and what is asked of the pair.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposures {
    /// Angle from film A to film B, rad, signed: film B shows x·cosΔ + y·sinΔ
    /// of a place x aside and y towards the source.
    pub angle_rad: f64,
    /// Half width of its uncertainty, rad (rectangular).
    pub angle_half_width_rad: f64,
    pub receptor: Receptor,
    /// The canal; the first one that both cases have where absent.
    pub canal: Option<String>,
    /// What lies to the right on film A and towards its source.
    pub sides: words::Sides,
}

/// Half width of the angle between the films where none is stated, rad: 3.5°,
/// u = 2° (assumed, no source).
pub const ANGLE_HALF_WIDTH_RAD: f64 = 3.5 * std::f64::consts::PI / 180.0;

/// Half width of the roll of one film against the other, rad: 1° (assumed, no
/// source).
pub const ROLL_HALF_WIDTH_RAD: f64 = std::f64::consts::PI / 180.0;

/// Half width of the place at whose depth a film's own scale holds, mm: taken
/// half way from reference point to apex, and a bent root's apex lies up to 2 mm
/// off the tooth's axis (assumed, no source).
pub const SCALE_PLACE_HALF_WIDTH_MM: f64 = 1.0;

/// Half width of the detector's tilt against the film's plane, rad: 4° (assumed,
/// no source).
pub const TILT_HALF_WIDTH_RAD: f64 = 4.0 * std::f64::consts::PI / 180.0;

/// Angles between the films that are used, degrees: below 5° depth is ten
/// times as uncertain as the clicks (own limit).
const LEAST_ANGLE_DEG: f64 = 5.0;
const GREATEST_ANGLE_DEG: f64 = 175.0;
/// A receptor that stays is no longer lit from farther round (own limit).
const GREATEST_STAYED_DEG: f64 = 60.0;

impl Exposures {
    /// Films `angle_deg` apart, everything else as usual.
    pub fn new(angle_deg: f64, receptor: Receptor) -> Self {
        Self {
            angle_rad: angle_deg.to_radians(),
            angle_half_width_rad: ANGLE_HALF_WIDTH_RAD,
            receptor,
            canal: None,
            sides: words::Sides::default(),
        }
    }

    /// What a case remembers of its second film.
    pub fn remembered(second: &SecondFilm) -> Self {
        Self {
            angle_rad: second.angle_deg.to_radians(),
            angle_half_width_rad: second
                .angle_half_width_deg
                .map_or(ANGLE_HALF_WIDTH_RAD, f64::to_radians),
            receptor: second.receptor,
            canal: None,
            sides: words::Sides {
                right: second.right_is,
                source: second.source_is,
            },
        }
    }

    pub(super) fn check(&self) -> Result<(), TwoViewError> {
        if !self.angle_rad.is_finite() {
            return Err(TwoViewError::AngleNotFinite);
        }
        let greatest = match self.receptor {
            Receptor::Turned => GREATEST_ANGLE_DEG,
            Receptor::Stayed => GREATEST_STAYED_DEG,
        };
        let degrees = self.angle_rad.to_degrees();
        // A hair for degrees that were radians in between.
        if !(LEAST_ANGLE_DEG - 1e-9..=greatest + 1e-9).contains(&degrees.abs()) {
            return Err(TwoViewError::Angle {
                degrees,
                least: LEAST_ANGLE_DEG,
                greatest,
                receptor: self.receptor,
            });
        }
        let half = self.angle_half_width_rad.to_degrees();
        if !(0.0..=30.0).contains(&half) {
            return Err(TwoViewError::AngleHalfWidth { degrees: half });
        }
        Ok(())
    }
}
