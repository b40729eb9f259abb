//! What every method gives: a number, or why there is none.

use kurbo::Vec2;
use thiserror::Error;

/// The unit of a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathUnit {
    /// mm in the tooth frame.
    Millimetre,
    /// px without a scale: methods that need true lengths give none.
    Pixel,
}

/// Why a quantity cannot be had.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum Missing {
    /// The path is straight.
    #[error("no curve was found: the canal is straight within the noise of its points")]
    NoCurve,
    /// The canal is shorter than the method needs.
    #[error("the canal is {length_mm:.1} mm long; this method needs {needed_mm:.1} mm")]
    TooShort {
        /// What the method needs.
        needed_mm: f64,
        /// Length of the path.
        length_mm: f64,
    },
    /// The method is defined in mm and no scale is known.
    #[error("this method is defined in mm and needs a scale")]
    NoScale,
    /// The construction has no circle, for example because its lines are
    /// parallel or meet on the wrong side.
    #[error("the lines of this construction have no circle between them")]
    NoCircle,
    /// Two landmarks lie on each other and give no direction.
    #[error("two landmarks of this construction lie on each other")]
    LandmarksCoincide,
}

/// A result, or why there is none.
pub type Measured = Result<f64, Missing>;

/// What the reader of the results should know about how they were placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Note {
    /// The axis is the tangent at the orifice, which is also the curve's start.
    NoStraightCoronalPiece,
    /// The most apical of several curves was measured.
    OtherCurves {
        /// Number of curves besides it.
        others: usize,
    },
    /// The canal is straight within the noise of its points.
    NoCurve,
}

impl Note {
    /// The note in plain words.
    pub fn text(self) -> String {
        match self {
            Self::NoStraightCoronalPiece => "The canal has no straight coronal piece: angles are \
                taken from its direction at the orifice, where the curve starts."
                .to_owned(),
            Self::OtherCurves { others } => {
                let curves = if others == 1 { "curve" } else { "curves" };
                format!(
                    "The canal has {others} more {curves}: Schneider, Weine, axis–axis, Pruett, \
                     Schäfer and Günday speak of the most apical one."
                )
            }
            Self::NoCurve => "No curve was found: the canal is straight within the noise of its \
                points."
                .to_owned(),
        }
    }
}

/// Angle between two directions, rad in [0, π].
pub(super) fn angle_between_rad(a: Vec2, b: Vec2) -> Measured {
    if a.hypot2() > 0.0 && b.hypot2() > 0.0 {
        Ok(a.cross(b).abs().atan2(a.dot(b)))
    } else {
        Err(Missing::LandmarksCoincide)
    }
}
