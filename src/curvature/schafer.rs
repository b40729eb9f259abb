//! Schäfer's radius and length of the curve.
//!
//! Schäfer E, Diez C, Hoppe W, Tepel J. J Endod 2002;28:211–6, doi
//! 10.1097/00004770-200203000-00017 (numbers SEEN, formulas MEM-M; they follow
//! from the tangent–chord theorem). The circle through the curve's start B and
//! the foramen C that touches the coronal axis at B, from Schneider's angle α
//! and the chord S = BC: r = S/(2 sin α), curve length L = 2αr.
//!
//! The whole curved part is taken for one arc; a straight apical end makes the
//! radius too large.

use super::measured::Missing;

/// Smallest angle with a circle to speak of, rad.
const SMALLEST_ANGLE_RAD: f64 = 1e-6;

/// The arc from the curve's start to the apical end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SchaferArc {
    /// r.
    pub radius: f64,
    /// L.
    pub length: f64,
}

/// The arc over `chord` with Schneider's angle `schneider_rad` at its start.
///
/// # Errors
/// [`Missing::NoCurve`] at angle zero, [`Missing::NoCircle`] when the angle is
/// π.
pub fn arc(chord: f64, schneider_rad: f64) -> Result<SchaferArc, Missing> {
    if schneider_rad < SMALLEST_ANGLE_RAD {
        return Err(Missing::NoCurve);
    }
    let radius = chord / (2.0 * schneider_rad.sin());
    if !(radius.is_finite() && schneider_rad < std::f64::consts::PI - SMALLEST_ANGLE_RAD) {
        return Err(Missing::NoCircle);
    }
    Ok(SchaferArc {
        radius,
        length: 2.0 * schneider_rad * radius,
    })
}
