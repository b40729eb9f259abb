//! From where the file tip stands to the length for the chart (docs/methods.md
//! 4).
//!
//! The conventions here are settings, each with its source; the clinician
//! decides.

mod advice;

pub use advice::{Advice, TipLimits, advise};

/// Distance from the radiographic apex at which to stop, by the state of bone
/// and root: Weine's subtraction (SEEN-2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resorption {
    /// Neither bone nor root resorbed.
    None,
    /// Bone resorbed.
    Bone,
    /// Bone and root resorbed.
    BoneAndRoot,
}

impl Resorption {
    /// Weine's subtraction, mm.
    pub fn allowance_mm(self) -> f64 {
        match self {
            Resorption::None => 1.0,
            Resorption::Bone => 1.5,
            Resorption::BoneAndRoot => 2.0,
        }
    }
}

/// Allowance where the case states none: Weine's for no resorption.
pub const DEFAULT_ALLOWANCE_MM: f64 = 1.0;

/// Step of the chart value (common practice, no source): half millimetres.
pub const DEFAULT_CHART_STEP_MM: f64 = 0.5;

/// Difference between the additive and the proportion length that warns
/// (docs/methods.md 4).
pub const LENGTH_DIFFERENCE_LIMIT_MM: f64 = 0.5;

/// Distance of the tip from the canal path that warns (docs/methods.md 4).
pub const TIP_OFF_PATH_LIMIT_MM: f64 = 0.5;

/// Additive working length: set length + tip-to-apex − allowance, all mm in
/// the tooth frame.
pub fn additive_mm(set_length_mm: f64, tip_to_apex_mm: f64, allowance_mm: f64) -> f64 {
    set_length_mm + tip_to_apex_mm - allowance_mm
}

/// Rounds a working length to the chart's step, towards short.
///
/// A value within a nanometre below a step counts as that step, so that 20.5
/// reached through floating point stays 20.5.
pub fn chart_mm(raw_mm: f64, step_mm: f64) -> f64 {
    const FLOAT_SLACK_MM: f64 = 1e-6;
    ((raw_mm + FLOAT_SLACK_MM) / step_mm).floor() * step_mm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::grossman_mm;

    /// DERIVED: the 22.0 mm tooth of Grossman's proportion
    /// less 1.0/1.5/2.0, and the additive length with scale 1.05.
    #[test]
    fn worked_values() {
        let tooth_mm = grossman_mm(21.0, 23.1, 22.05);
        for (resorption, length_mm) in [
            (Resorption::None, 21.0),
            (Resorption::Bone, 20.5),
            (Resorption::BoneAndRoot, 20.0),
        ] {
            assert!((tooth_mm - resorption.allowance_mm() - length_mm).abs() < 1e-12);
        }
        assert!((additive_mm(21.0, 1.05 / 1.05, 0.0) - 22.0).abs() < 1e-12);
    }

    #[test]
    fn the_chart_value_is_never_longer_than_the_raw_one() {
        for (raw, step, chart) in [
            (20.4, 0.5, 20.0),
            (20.5, 0.5, 20.5),
            (0.1 + 0.2 + 20.2, 0.5, 20.5),
            (20.74, 0.25, 20.5),
            (20.75, 0.25, 20.75),
            (19.999, 0.5, 19.5),
        ] {
            assert_eq!(chart_mm(raw, step), chart, "{raw} by {step}");
        }
    }
}
