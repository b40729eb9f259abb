//! Canal-curvature row of the AAE case difficulty form, 2022 edition.
//!
//! Below 10° low (SEEN-2), 10–30° moderate (SEEN-2), above 30° or S-shaped
//! high (MEM-H).
//! Exactly 10° and exactly 30° count as moderate (our choice). The form names
//! no method of measuring; the class is read from the greatest Schneider angle
//! of any of the canal's curves and says so (our choice).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Curve;

/// Below this the row reads low, degrees.
const MODERATE_FROM_DEG: f64 = 10.0;
/// Above this the row reads high, degrees.
const HIGH_ABOVE_DEG: f64 = 30.0;

/// Columns of the form, the easiest first.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
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
    /// The greatest Schneider angle of any of the canal's curves, rad.
    pub angle_rad: Option<f64>,
    /// The curve it belongs to, counted from the orifice; `None` where the
    /// canal is straight.
    pub curve: Option<usize>,
}

impl DifficultyClass {
    /// The class of a label; `None` for a word that is none.
    pub fn from_label(label: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|class| class.label() == label)
    }

    /// All classes, the easiest first.
    pub const ALL: [Self; 3] = [Self::Low, Self::Moderate, Self::High];

    /// Where moderate and high begin, rad.
    pub const LIMITS_RAD: [f64; 2] = [
        MODERATE_FROM_DEG * std::f64::consts::PI / 180.0,
        HIGH_ABOVE_DEG * std::f64::consts::PI / 180.0,
    ];

    /// The class of an angle and the S shape; `None` for an angle that is no
    /// number.
    pub fn of(angle_rad: f64, s_shaped: bool) -> Option<Self> {
        if s_shaped {
            return Some(Self::High);
        }
        // Rounding of the conversion must not push 30° over the edge.
        let degrees = (angle_rad.to_degrees() * 1e9).round() / 1e9;
        if degrees.is_nan() {
            None
        } else if degrees < MODERATE_FROM_DEG {
            Some(Self::Low)
        } else if degrees <= HIGH_ABOVE_DEG {
            Some(Self::Moderate)
        } else {
            Some(Self::High)
        }
    }
}

impl Difficulty {
    /// The class of a canal: that of its worst curve. A canal is as difficult
    /// as its most severe curve, not as its last one.
    ///
    /// `schneider_rad` is the method's own angle, of the curve `measured` or as
    /// the user has placed it. Every other curve, and a measured one that is not
    /// the most apical, counts with its Schneider angle to its own end or to the
    /// apical end, whichever is greater.
    pub fn of_canal(
        schneider_rad: Option<f64>,
        measured: Option<usize>,
        curves: &[Curve],
        s_shaped: bool,
    ) -> Self {
        let own = |curve: &Curve| curve.schneider_rad.max(curve.schneider_to_apex_rad);
        let mut worst = schneider_rad.map(|angle| (angle, measured));
        for (index, curve) in curves.iter().enumerate() {
            if Some(index) == measured && index + 1 == curves.len() {
                continue;
            }
            let angle = own(curve);
            if worst.is_none_or(|(greatest, _)| angle > greatest) {
                worst = Some((angle, Some(index)));
            }
        }
        let angle_rad = worst.map(|(angle, _)| angle);
        Self {
            class: DifficultyClass::of(angle_rad.unwrap_or(f64::NAN), s_shaped),
            method: if s_shaped { "s_shape" } else { "schneider" },
            angle_rad,
            curve: worst.and_then(|(_, curve)| curve),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::DifficultyClass::{self, High, Low, Moderate};
    use super::{Curve, Difficulty};

    fn curve(degrees: f64) -> Curve {
        let turn_rad = degrees.to_radians();
        Curve {
            turn_rad,
            radius: 5.0,
            arc_length: 5.0 * turn_rad,
            start_from_apex: 6.0,
            end_from_apex: 1.0,
            schneider_rad: 0.5 * turn_rad,
            schneider_to_apex_rad: 0.7 * turn_rad,
            pieces: [1, 1],
        }
    }

    /// The worst curve decides, wherever it lies and whichever the method's own
    /// angle is of; only the most apical one, where the method measured it, is
    /// known by that angle alone.
    #[test]
    fn the_worst_curve_decides_the_class() {
        let of = |own_degrees: f64, measured: usize, turns: [f64; 2]| {
            let curves = turns.map(curve);
            let own = Some(own_degrees.to_radians());
            let found = Difficulty::of_canal(own, Some(measured), &curves, false);
            (found.class, found.curve)
        };
        // The most apical was not the one measured, and is the worst.
        assert_eq!(of(5.0, 0, [10.0, 60.0]), (Some(High), Some(1)));
        // It was measured, and its own angle is what counts of it.
        assert_eq!(of(5.0, 1, [8.0, 60.0]), (Some(Low), Some(0)));
        assert_eq!(of(25.0, 1, [8.0, 60.0]), (Some(Moderate), Some(1)));
        // Another than the most apical was measured: to the apex it is worse.
        assert_eq!(of(25.0, 0, [60.0, 4.0]), (Some(High), Some(0)));
    }

    /// Edges of the form: 10° and 30°; exactly either is moderate.
    #[test]
    fn edges_of_the_classes() {
        for (degrees, class) in [
            (0.0_f64, Low),
            (9.999, Low),
            (10.0, Moderate),
            (30.0, Moderate),
            (30.001, High),
        ] {
            assert_eq!(
                DifficultyClass::of(degrees.to_radians(), false),
                Some(class)
            );
            assert_eq!(DifficultyClass::of(degrees.to_radians(), true), Some(High));
        }
        assert_eq!(DifficultyClass::of(f64::NAN, false), None);
    }
}
