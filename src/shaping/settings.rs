//! Conventions in force: every limit a user may set, with its default.

use serde::{Deserialize, Serialize};

use crate::measure::MeasureSettings;

/// How two films are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapingSettings {
    /// Distance between levels, mm.
    pub step_mm: f64,
    /// Monte Carlo draws.
    pub draws: usize,
    /// Residual of the marks above which the pictures are taken for different
    /// objects, mm (own limit).
    pub greatest_residual_mm: f64,
    /// Disagreement of the two calibrations with the marks that warns, as a
    /// share (own limit).
    pub scale_disagreement: f64,
    /// The marks of the second picture are moved to where the pictures
    /// themselves show them.
    pub match_marks: bool,
    /// Limits of the findings.
    pub limits: AberrationLimits,
    /// How each film is measured.
    pub measure: MeasureSettings,
}

impl Default for ShapingSettings {
    fn default() -> Self {
        Self {
            step_mm: 1.0,
            draws: 4000,
            greatest_residual_mm: 1.0,
            scale_disagreement: 0.02,
            match_marks: false,
            limits: AberrationLimits::default(),
            measure: MeasureSettings {
                draws: 4000,
                ..MeasureSettings::default()
            },
        }
    }
}

/// Limits of the findings: own rules after Weine's words, own limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AberrationLimits {
    /// A zip is at least this much wider at the end than where it is
    /// narrowest coronally.
    pub zip_least_mm: f64,
    /// The narrowest place is sought from here, from the end …
    pub elbow_from_mm: f64,
    /// … to here.
    pub elbow_to_mm: f64,
    /// A step of the outer wall of at least this …
    pub ledge_step_mm: f64,
    /// … over at most this length is a ledge.
    pub ledge_length_mm: f64,
    /// The after-canal ends short by more than this: loss of length.
    pub short_mm: f64,
    /// A remaining wall thinner than this is thin …
    pub thin_wall_mm: f64,
    /// … and thinner than this very thin.
    pub very_thin_wall_mm: f64,
}

impl Default for AberrationLimits {
    fn default() -> Self {
        Self {
            zip_least_mm: 0.05,
            elbow_from_mm: 1.0,
            elbow_to_mm: 5.0,
            ledge_step_mm: 0.1,
            ledge_length_mm: 0.5,
            short_mm: 0.5,
            thin_wall_mm: 0.5,
            very_thin_wall_mm: 0.3,
        }
    }
}

impl AberrationLimits {
    /// All limits are lengths that a canal can have.
    ///
    /// # Errors
    /// The first that is not, in words.
    pub fn check(&self) -> Result<(), String> {
        for (name, found) in [
            ("zip_least_mm", self.zip_least_mm),
            ("elbow_from_mm", self.elbow_from_mm),
            ("elbow_to_mm", self.elbow_to_mm),
            ("ledge_step_mm", self.ledge_step_mm),
            ("ledge_length_mm", self.ledge_length_mm),
            ("short_mm", self.short_mm),
            ("thin_wall_mm", self.thin_wall_mm),
            ("very_thin_wall_mm", self.very_thin_wall_mm),
        ] {
            if !(0.0..=30.0).contains(&found) {
                return Err(format!(
                    "{name}: {found} mm is not possible; give a value from 0 to 30"
                ));
            }
        }
        if self.elbow_from_mm >= self.elbow_to_mm {
            return Err("elbow_from_mm must be less than elbow_to_mm".to_owned());
        }
        if self.very_thin_wall_mm > self.thin_wall_mm {
            return Err("very_thin_wall_mm must not exceed thin_wall_mm".to_owned());
        }
        Ok(())
    }
}
