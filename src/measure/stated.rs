//! Every input whose uncertainty a case may state: name, unit, default and
//! what the default rests on.

use super::inputs::PlaceKind;
use super::settings::InputUncertainty;
use crate::case::{Case, StatedUncertainty};

/// One such input, the clicks apart.
pub struct StatedInput {
    /// Key in the case's `input_uncertainty`.
    pub key: &'static str,
    /// Its name for the user.
    pub label: &'static str,
    /// Unit of the stated number.
    pub unit: &'static str,
    /// Step of a stepping button.
    pub step: f64,
    /// Greatest number that makes sense; the least is 0.
    pub greatest: f64,
    /// What the default rests on.
    pub reason: &'static str,
    stated: fn(&mut StatedUncertainty) -> &mut Option<f64>,
    used: fn(&mut InputUncertainty) -> &mut f64,
    used_per_stated: f64,
}

const RAD_PER_DEG: f64 = std::f64::consts::PI / 180.0;

/// All of them, in the order of a measurement.
pub const STATED_INPUTS: [StatedInput; 13] = [
    StatedInput {
        key: "reading_half_width_mm",
        label: "Set length as read, ±",
        unit: "mm",
        step: 0.05,
        greatest: 5.0,
        reason: "half a division of a ruler read to 0.5 mm (common practice, no source)",
        stated: |s| &mut s.reading_half_width_mm,
        used: |u| &mut u.reading_half_width_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "nominal_half_width_mm",
        label: "Nominal file length, ±",
        unit: "mm",
        step: 0.05,
        greatest: 5.0,
        reason: "tolerance of ISO 3630-1 (as remembered)",
        stated: |s| &mut s.nominal_half_width_mm,
        used: |u| &mut u.nominal_half_width_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "ruler_half_width_mm",
        label: "Ruler's length, ±",
        unit: "mm",
        step: 0.01,
        greatest: 5.0,
        reason: "assumed",
        stated: |s| &mut s.ruler_half_width_mm,
        used: |u| &mut u.ruler_half_width_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "ball_half_width_mm",
        label: "Ball's diameter, ±",
        unit: "mm",
        step: 0.005,
        greatest: 5.0,
        reason: "assumed",
        stated: |s| &mut s.ball_half_width_mm,
        used: |u| &mut u.ball_half_width_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "film_scale_percent",
        label: "Pixel pitch and magnification, u",
        unit: "%",
        step: 0.1,
        greatest: 20.0,
        reason: "a tooth's distance known to 1.5 mm at 300 mm from the source (assumed)",
        stated: |s| &mut s.film_scale_percent,
        used: |u| &mut u.film_scale_relative,
        used_per_stated: 0.01,
    },
    StatedInput {
        key: "depth_to_other_canal_mm",
        label: "Depth to a file in another canal, u",
        unit: "mm",
        step: 0.5,
        greatest: 30.0,
        reason: "as canals of a molar lie (common practice, no source); a canal's own file: 0",
        stated: |s| &mut s.depth_to_other_canal_mm,
        used: |u| &mut u.depth_to_other_canal_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "depth_to_object_mm",
        label: "Depth to a ruler or ball, u",
        unit: "mm",
        step: 0.5,
        greatest: 30.0,
        reason: "common practice, no source",
        stated: |s| &mut s.depth_to_object_mm,
        used: |u| &mut u.depth_to_object_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "lean_half_width_deg",
        label: "Lean of root against detector, ±",
        unit: "°",
        step: 1.0,
        greatest: 45.0,
        reason: "what the paralleling technique leaves (common practice, no source)",
        stated: |s| &mut s.lean_half_width_deg,
        used: |u| &mut u.tilt_half_width_rad,
        used_per_stated: RAD_PER_DEG,
    },
    StatedInput {
        key: "bend_plane_half_width_deg",
        label: "Bends out of the film's plane, ±",
        unit: "°",
        step: 5.0,
        greatest: 60.0,
        reason: "assumed: one film cannot know; steeper bends need a second view",
        stated: |s| &mut s.bend_plane_half_width_deg,
        used: |u| &mut u.bend_plane_half_width_rad,
        used_per_stated: RAD_PER_DEG,
    },
    StatedInput {
        key: "apex_aside_mm",
        label: "Apex beside the canal's end, u",
        unit: "mm",
        step: 0.02,
        greatest: 2.0,
        reason: "for foramina up to 0.2 mm aside (assumed)",
        stated: |s| &mut s.apex_aside_mm,
        used: |u| &mut u.apex_aside_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "assisted_mm",
        label: "Assisted point, u",
        unit: "mm",
        step: 0.01,
        greatest: 5.0,
        reason: "what assistance is held to on phantom films",
        stated: |s| &mut s.assisted_mm,
        used: |u| &mut u.assisted_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "assisted_apex_mm",
        label: "Assisted apex, u",
        unit: "mm",
        step: 0.05,
        greatest: 5.0,
        reason: "root ends found on phantom films made strange",
        stated: |s| &mut s.assisted_apex_mm,
        used: |u| &mut u.assisted_apex_mm,
        used_per_stated: 1.0,
    },
    StatedInput {
        key: "click_px",
        label: "Click without any scale, u",
        unit: "px",
        step: 0.5,
        greatest: 100.0,
        reason: "assumed; counts where neither pitch nor scale is known",
        stated: |s| &mut s.click_px,
        used: |u| &mut u.click_px,
        used_per_stated: 1.0,
    },
];

impl StatedInput {
    /// What a case states; `None`: the default is in force.
    pub fn of(&self, case: &Case) -> Option<f64> {
        let mut stated = case.input_uncertainty?;
        *(self.stated)(&mut stated)
    }

    /// States it in a case, or leaves it to the default.
    pub fn state(&self, case: &mut Case, value: Option<f64>) {
        let mut stated = case.input_uncertainty.unwrap_or_default();
        *(self.stated)(&mut stated) = value;
        case.input_uncertainty = (stated != StatedUncertainty::default()).then_some(stated);
    }

    /// The number in force where a case states none.
    pub fn default_in(&self, defaults: &InputUncertainty) -> f64 {
        *(self.used)(&mut defaults.clone()) / self.used_per_stated
    }
}

impl InputUncertainty {
    /// These, with what the case states in their place.
    pub fn stated_in(&self, case: &Case) -> Self {
        let mut used = self.clone();
        for input in &STATED_INPUTS {
            if let Some(stated) = input.of(case) {
                *(input.used)(&mut used) = stated * input.used_per_stated;
            }
        }
        used
    }
}

impl PlaceKind {
    /// The clicks in words, for the user.
    pub fn label(self) -> &'static str {
        match self {
            Self::Reference => "Reference point, stop face",
            Self::Tip => "File tip",
            Self::Apex => "Apex",
            Self::Canal => "Canal's points",
            Self::ScaleObject => "Points of ruler or ball",
            Self::Curvature => "Curvature landmarks",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each states its own number and no other's.
    #[test]
    fn every_input_has_its_own_place() {
        let defaults = InputUncertainty::default();
        for (i, input) in STATED_INPUTS.iter().enumerate() {
            let mut case = Case::on_film("film.png");
            assert_eq!(input.of(&case), None);
            let value = 0.1 + i as f64 / 100.0;
            input.state(&mut case, Some(value));
            let used = defaults.stated_in(&case);
            for other in &STATED_INPUTS {
                let found = other.default_in(&used);
                if other.key == input.key {
                    assert!((found - value).abs() < 1e-12, "{}", input.key);
                } else {
                    assert_eq!(found, other.default_in(&defaults), "{}", other.key);
                    assert_eq!(other.of(&case), None);
                }
            }
            let written = serde_json::to_value(case.input_uncertainty).unwrap();
            assert_eq!(written[input.key], value);
            input.state(&mut case, None);
            assert_eq!(case.input_uncertainty, None);
        }
    }
}
