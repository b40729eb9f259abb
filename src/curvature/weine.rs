//! Weine's angle.
//!
//! Weine FS. Endodontic Therapy, 3rd ed. 1982 (MEM-H). Line 1 runs from the
//! orifice through the coronal part of the curve, line 2 from the apex through
//! its apical part: on a path without corners, the tangents where the curve
//! starts and ends.

use kurbo::Vec2;

use super::measured::{Measured, angle_between_rad};

/// Angle between the coronal tangent at the curve's start and the apical
/// tangent at its end, both pointing apically, rad in [0, π].
///
/// # Errors
/// [`super::Missing::LandmarksCoincide`] when a tangent has no direction.
pub fn angle_rad(coronal_tangent: Vec2, apical_tangent: Vec2) -> Measured {
    angle_between_rad(coronal_tangent, apical_tangent)
}
