//! Canal-curvature row of the AAE case difficulty form, 2022 edition.
//!
//! Below 10° low (SEEN-2), 10–30° moderate (SEEN-2), above 30° or S-shaped
//! high (MEM-H).
//! Exactly 10° and exactly 30° count as moderate (our choice). The form names
//! no method of measuring; the class is read from Schneider's angle and says
//! so.

/// Below this the row reads low, degrees.
const MODERATE_FROM_DEG: f64 = 10.0;
/// Above this the row reads high, degrees.
const HIGH_ABOVE_DEG: f64 = 30.0;

/// Columns of the form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DifficultyClass {
    /// No or slight curvature.
    Low,
    /// 10–30°.
    Moderate,
    /// Above 30° or S-shaped.
    High,
}

impl DifficultyClass {
    /// The class in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Moderate => "moderate",
            Self::High => "high",
        }
    }
}

/// The row's class and how it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difficulty {
    /// The class; `None` without an angle and without an S.
    pub class: Option<DifficultyClass>,
    /// The method the class was read from: `schneider` or `s_shape`.
    pub method: &'static str,
}

impl DifficultyClass {
    /// The classes that angles of `schneider_rad` ± `u_rad` fall in, without an
    /// S shape.
    pub fn reached(schneider_rad: f64, u_rad: f64) -> impl Iterator<Item = Self> {
        let class = |angle: f64| Difficulty::new(angle, false).class;
        let least = class((schneider_rad - u_rad).max(0.0));
        let greatest = class(schneider_rad + u_rad);
        [Self::Low, Self::Moderate, Self::High]
            .into_iter()
            .filter(move |&c| Some(c) >= least && Some(c) <= greatest)
    }
}

impl Difficulty {
    /// The class of Schneider's angle and the S shape; an angle that is no
    /// number gives none.
    pub fn new(schneider_rad: f64, s_shaped: bool) -> Self {
        if s_shaped {
            return Self {
                class: Some(DifficultyClass::High),
                method: "s_shape",
            };
        }
        // Rounding of the conversion must not push 30° over the edge.
        let degrees = (schneider_rad.to_degrees() * 1e9).round() / 1e9;
        let class = if degrees.is_nan() {
            None
        } else if degrees < MODERATE_FROM_DEG {
            Some(DifficultyClass::Low)
        } else if degrees <= HIGH_ABOVE_DEG {
            Some(DifficultyClass::Moderate)
        } else {
            Some(DifficultyClass::High)
        };
        Self {
            class,
            method: "schneider",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::DifficultyClass::{self, High, Low, Moderate};

    /// Edges of the form: 10° and 30° (docs/methods.md 5.11).
    #[test]
    fn an_interval_reaches_every_class_it_touches() {
        let reached = |angle: f64, u: f64| {
            DifficultyClass::reached(angle.to_radians(), u.to_radians()).collect::<Vec<_>>()
        };
        assert_eq!(reached(20.0, 5.0), [Moderate]);
        assert_eq!(reached(25.0, 6.0), [Moderate, High]);
        assert_eq!(reached(3.0, 150.0), [Low, Moderate, High]);
        assert_eq!(reached(2.0, 5.0), [Low]);
    }
}
