//! Luiten's angle.
//!
//! Luiten DJ, Morgan LA, Baumgartner JC, Marshall JG. J Endod 1995;21:26–32
//! (study SEEN in its abstract; the four points SEEN-2). A: centre of the orifice; B: 2 mm apical to A on the canal; D:
//! apical foramen; C: 1 mm coronal to D on the canal. The angle lies between
//! AB and CD; it is blind to what lies between. Both distances are taken along
//! the canal.
//!
//! For an arc that ends at the foramen the angle is θ − 1/(2r): the chord over
//! the last mm points half a mm back along the arc.

use kurbo::Point;

use super::measured::{Measured, angle_between_rad};

/// A → B along the canal, mm.
pub const AXIS_MM: f64 = 2.0;
/// C → D along the canal, mm.
pub const APICAL_MM: f64 = 1.0;
/// Least length of a canal for both lines, mm.
pub const NEEDED_MM: f64 = AXIS_MM + APICAL_MM;

/// The four points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lines {
    /// A, centre of the orifice.
    pub orifice: Point,
    /// B, 2 mm further.
    pub axis: Point,
    /// C, 1 mm before the end.
    pub apical: Point,
    /// D, the apical end.
    pub apical_end: Point,
}

/// Angle between AB and CD, rad in [0, π].
///
/// # Errors
/// [`super::Missing::LandmarksCoincide`] when a line has no direction.
pub fn angle_rad(lines: &Lines) -> Measured {
    angle_between_rad(lines.axis - lines.orifice, lines.apical_end - lines.apical)
}
