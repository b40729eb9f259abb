//! Schneider's angle.
//!
//! Schneider SW. Oral Surg Oral Med Oral Pathol 1971;32:271–5. Line 1 runs
//! along the coronal long axis of the canal; B is where the canal leaves it;
//! line 2 joins B to the apical foramen C. The angle lies between line 1
//! prolonged and line 2. For a single arc that ends at the foramen it is half
//! the true deflection.

use kurbo::{Point, Vec2};

use super::measured::{Measured, angle_between_rad};

/// Angle between the coronal `axis` (pointing apically) and the line from the
/// curve's start B to the apical end C, rad in [0, π].
///
/// # Errors
/// [`super::Missing::LandmarksCoincide`] when B lies on C or there is no axis.
pub fn angle_rad(axis: Vec2, curve_start: Point, apical_end: Point) -> Measured {
    angle_between_rad(axis, apical_end - curve_start)
}
