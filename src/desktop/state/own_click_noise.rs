//! The click noise a person has measured and keeps for new cases.

use serde::{Deserialize, Serialize};

use crate::case::{ByPlaceKind, Case};
use crate::measure::PlaceKind;
use crate::measure::click_noise::{self, MeasuredClickNoise};

/// By kind of place; kinds never measured are absent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OwnClickNoise {
    /// Standard deviation per coordinate, mm at the detector.
    sd_mm: ByPlaceKind,
    /// Its degrees of freedom.
    dof: ByPlaceKind,
}

impl OwnClickNoise {
    /// Nothing is known.
    pub fn is_empty(&self) -> bool {
        self.known().is_empty()
    }

    /// What is known, kind by kind.
    pub fn known(&self) -> Vec<(PlaceKind, MeasuredClickNoise)> {
        let of = |kind: PlaceKind| {
            let (sd, dof) = (self.sd_mm.of(kind)?, self.dof.of(kind)?);
            // Written by hand it may be anything.
            let dof = (dof.is_finite() && dof >= 0.0).then_some(dof as usize)?;
            let noise = MeasuredClickNoise { sd, dof };
            noise.is_usable().then_some((kind, noise))
        };
        PlaceKind::ALL.into_iter().filter_map(of).collect()
    }

    /// Takes new measurements in the place of old ones of the same kinds.
    pub fn learn(&mut self, measured: &[(PlaceKind, MeasuredClickNoise)]) {
        for (kind, noise) in measured {
            *self.sd_mm.slot(*kind) = Some(noise.sd);
            *self.dof.slot(*kind) = Some(noise.dof as f64);
        }
    }

    /// States it in a case; kinds never measured stay as they are.
    pub fn write_into(&self, case: &mut Case) {
        for (kind, noise) in self.known() {
            noise.state(case, kind);
        }
    }

    /// Leaves these kinds to what holds for all in a case.
    pub fn take_from(&self, case: &mut Case) {
        for (kind, _) in self.known() {
            click_noise::state(case, kind, None);
        }
    }
}
