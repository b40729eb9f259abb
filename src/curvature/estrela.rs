//! Estrela's radius.
//!
//! Estrela C, Bueno MR, Sousa-Neto MD, Pécora JD. Braz Dent J 2008;19:114–8,
//! doi 10.1590/S0103-64402008000200005 (principle SEEN; 6 mm MEM-H). Two straight segments of 6 mm follow the canal, one apical, one
//! coronal of it; the perpendiculars on their middles meet in the
//! circumcentre; the radius runs from there to the middles. Segments that
//! share an end and turn by φ give r = 3/tan(φ/2); segments that do not have
//! two radii, and both are given. Made for CBCT slices.

use kurbo::{Point, Vec2};

use super::measured::Missing;
use crate::geometry::unit;

/// Length of each segment, mm.
pub const SEGMENT_MM: f64 = 6.0;
/// Least length of a canal for both segments, mm.
pub const NEEDED_MM: f64 = 2.0 * SEGMENT_MM;

/// The two segments, both running apically.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segments {
    /// Start and end of the coronal segment.
    pub coronal: [Point; 2],
    /// Start and end of the apical segment.
    pub apical: [Point; 2],
}

/// The circumcentre and its distances to the middles of the segments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circumcircle {
    /// Where the perpendiculars meet.
    pub centre: Point,
    /// Distance to the middle of the apical segment.
    pub to_apical_segment: f64,
    /// Distance to the middle of the coronal segment.
    pub to_coronal_segment: f64,
}

impl Circumcircle {
    /// The radius: mean of the two distances, which agree for joined segments
    /// of one length.
    pub fn radius(&self) -> f64 {
        0.5 * (self.to_apical_segment + self.to_coronal_segment)
    }
}

/// The circle of two segments.
///
/// # Errors
/// [`Missing::NoCurve`] when they are parallel,
/// [`Missing::LandmarksCoincide`] when one has no direction.
pub fn circle(segments: &Segments) -> Result<Circumcircle, Missing> {
    let middle = |[from, to]: [Point; 2]| from.midpoint(to);
    let direction = |[from, to]: [Point; 2]| unit(to - from);
    let (m1, m2) = (middle(segments.coronal), middle(segments.apical));
    let (d1, d2): (Vec2, Vec2) = (direction(segments.coronal), direction(segments.apical));
    if d1.hypot2() == 0.0 || d2.hypot2() == 0.0 {
        return Err(Missing::LandmarksCoincide);
    }
    let cross = d1.cross(d2);
    if cross.abs() < 1e-9 {
        return Err(Missing::NoCurve);
    }
    // centre = m1 + n1·h with n1 ⟂ d1, on the perpendicular (p − m2)·d2 = 0.
    let n1 = Vec2::new(-d1.y, d1.x);
    let centre = m1 + n1 * ((m2 - m1).dot(d2) / n1.dot(d2));
    Ok(Circumcircle {
        centre,
        to_apical_segment: centre.distance(m2),
        to_coronal_segment: centre.distance(m1),
    })
}
