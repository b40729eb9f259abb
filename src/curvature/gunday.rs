//! Günday's canal access angle, curvature height and distance.
//!
//! Günday M, Sazak H, Garip Y. J Endod 2005;31:796–8 (statistics SEEN). A:
//! orifice, B: Schneider's point, C: apex. The canal access angle lies at A
//! between the coronal axis and AC; D is the foot of the perpendicular from B
//! on AC; x = BD is the curvature height and y the curvature distance. That y
//! runs from A is remembered only (MEM-M), so AD and DC are both given.

use kurbo::{Point, Vec2};

use super::measured::{Measured, Missing, angle_between_rad};
use crate::geometry::unit;

/// Height and distance of the curvature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvatureHeight {
    /// D, the foot of the perpendicular.
    pub foot: Point,
    /// x = BD.
    pub height: f64,
    /// y = AD.
    pub distance: f64,
    /// DC.
    pub distance_from_apex: f64,
}

/// Angle at the orifice A between the coronal `axis` (pointing apically) and
/// AC, rad in [0, π].
///
/// # Errors
/// [`Missing::LandmarksCoincide`] when A lies on C or there is no axis.
pub fn canal_access_rad(axis: Vec2, orifice: Point, apical_end: Point) -> Measured {
    angle_between_rad(axis, apical_end - orifice)
}

/// Height and distance of the curve's start B over the line AC.
///
/// # Errors
/// [`Missing::LandmarksCoincide`] when A lies on C.
pub fn height(
    orifice: Point,
    curve_start: Point,
    apical_end: Point,
) -> Result<CurvatureHeight, Missing> {
    let direction = unit(apical_end - orifice);
    if direction.hypot2() == 0.0 {
        return Err(Missing::LandmarksCoincide);
    }
    let distance = (curve_start - orifice).dot(direction);
    let foot = orifice + direction * distance;
    Ok(CurvatureHeight {
        foot,
        height: curve_start.distance(foot),
        distance,
        distance_from_apex: (apical_end - foot).dot(direction),
    })
}
