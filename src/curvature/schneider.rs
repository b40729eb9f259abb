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

/// Schneider's classes with the gaps he left between them (MEM-H).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// At most 5°.
    Straight,
    /// Above 5° and below 10°: not assigned by the author.
    BetweenStraightAndModerate,
    /// 10–20°.
    Moderate,
    /// Above 20° and below 25°: not assigned by the author.
    BetweenModerateAndSevere,
    /// 25–70°.
    Severe,
    /// Above 70°: beyond the author's classes.
    BeyondSevere,
}

impl Class {
    /// The class of an angle; `None` for a value that is no angle.
    pub fn of(angle_rad: f64) -> Option<Self> {
        let degrees = angle_rad.to_degrees();
        Some(match degrees {
            0.0..=5.0 => Self::Straight,
            5.0..10.0 => Self::BetweenStraightAndModerate,
            10.0..=20.0 => Self::Moderate,
            20.0..25.0 => Self::BetweenModerateAndSevere,
            25.0..=70.0 => Self::Severe,
            70.0.. => Self::BeyondSevere,
            _ => return None,
        })
    }

    /// The class in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Straight => "straight",
            Self::BetweenStraightAndModerate => "between classes (straight and moderate)",
            Self::Moderate => "moderate",
            Self::BetweenModerateAndSevere => "between classes (moderate and severe)",
            Self::Severe => "severe",
            Self::BeyondSevere => "above the severe class",
        }
    }
}
