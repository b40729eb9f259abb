//! Probabilities of the difficulty classes.

use serde::Serialize;

use crate::curvature::DifficultyClass;

/// Share of what the inputs make possible that falls in each class; the shares
/// add up to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct ClassProbabilities {
    pub low: f64,
    pub moderate: f64,
    pub high: f64,
}

impl ClassProbabilities {
    /// Of one class.
    pub fn of(&self, class: DifficultyClass) -> f64 {
        match class {
            DifficultyClass::Low => self.low,
            DifficultyClass::Moderate => self.moderate,
            DifficultyClass::High => self.high,
        }
    }

    pub(super) fn slot(&mut self, class: DifficultyClass) -> &mut f64 {
        match class {
            DifficultyClass::Low => &mut self.low,
            DifficultyClass::Moderate => &mut self.moderate,
            DifficultyClass::High => &mut self.high,
        }
    }
}
