//! Pruett's angle and radius of curvature.
//!
//! Pruett JP, Clement DJ, Carnes DL. J Endod 1997;23:77–85 (results SEEN,
//! construction MEM-H). Lines run along the coronal and the apical straight
//! part; a and b are where the canal leaves them; a circle touches both lines
//! there. With V their crossing and t = |Va| = |Vb|, r = t / tan(α/2).
//!
//! Where |Va| and |Vb| differ no such circle exists. The mismatch is then
//! given beside the circle that touches both lines at tangent lengths nearest
//! the two in the least-squares sense: t is their mean.

use kurbo::{Point, Vec2};

use super::measured::{Measured, Missing, angle_between_rad};

/// Smallest angle between lines that still have a crossing to speak of, rad.
const SMALLEST_ANGLE_RAD: f64 = 1e-6;

/// The circle between the coronal and the apical line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TangentCircle {
    /// Crossing V of the two lines.
    pub crossing: Point,
    /// |Va|: from the curve's start to the crossing.
    pub coronal_tangent: f64,
    /// |Vb|: from the crossing to the curve's end.
    pub apical_tangent: f64,
    /// Radius of the (least-squares) circle.
    pub radius: f64,
    /// Its centre.
    pub centre: Point,
}

impl TangentCircle {
    /// Coronal less apical tangent length; zero for a true circle.
    pub fn tangent_mismatch(&self) -> f64 {
        self.coronal_tangent - self.apical_tangent
    }
}

/// Angle α between the two lines, both pointing apically, rad in [0, π].
///
/// # Errors
/// [`Missing::LandmarksCoincide`] when a line has no direction.
pub fn angle_rad(coronal: Vec2, apical: Vec2) -> Measured {
    angle_between_rad(coronal, apical)
}

/// The circle between two lines, each a place and a unit direction pointing
/// apically: the coronal one through the curve's start a, the apical one
/// through its end b.
///
/// # Errors
/// [`Missing::NoCurve`] when the lines are parallel, [`Missing::NoCircle`]
/// when they cross on the wrong side.
pub fn circle(coronal: (Point, Vec2), apical: (Point, Vec2)) -> Result<TangentCircle, Missing> {
    let ((a, u), (b, v)) = (coronal, apical);
    let angle = angle_rad(u, v)?;
    if angle < SMALLEST_ANGLE_RAD {
        return Err(Missing::NoCurve);
    }
    let cross = u.cross(v);
    let coronal_tangent = (b - a).cross(v) / cross;
    let apical_tangent = (b - a).cross(u) / -cross;
    let crossing = a + u * coronal_tangent;
    let tangent = 0.5 * (coronal_tangent + apical_tangent);
    let half_tan = (0.5 * angle).tan();
    let radius = tangent / half_tan;
    if !(radius.is_finite() && radius > 0.0 && half_tan > 0.0) {
        return Err(Missing::NoCircle);
    }
    let inward = Vec2::new(-u.y, u.x) * cross.signum();
    let centre = crossing - u * tangent + inward * radius;
    Ok(TangentCircle {
        crossing,
        coronal_tangent,
        apical_tangent,
        radius,
        centre,
    })
}
