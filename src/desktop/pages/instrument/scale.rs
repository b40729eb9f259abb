//! Lightness for strain: one hue, brighter where a file is bent more. It tells
//! more from less and judges nothing.

use egui::Color32;

use crate::instrumentation::CanalInstruments;

/// Ends of the scale: hardly bent and bent most, both seen on a dark film.
const LEAST: [f32; 3] = [70.0, 84.0, 120.0];
const MOST: [f32; 3] = [255.0, 244.0, 190.0];
/// Upper ends that a scale may have, per cent.
const TOPS_PERCENT: [f64; 14] = [
    0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 50.0, 100.0, 200.0,
];

/// From strain to lightness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StrainScale {
    pub top_percent: f64,
}

impl Default for StrainScale {
    fn default() -> Self {
        Self {
            top_percent: TOPS_PERCENT[0],
        }
    }
}

impl StrainScale {
    /// A scale that holds the peaks of all files of a canal.
    pub fn of(canal: &CanalInstruments) -> Self {
        let peaks = canal.files.iter().filter_map(|f| f.peak_strain_percent);
        let greatest = peaks.map(|peak| peak.value).fold(0.0, f64::max);
        let top = TOPS_PERCENT.iter().copied().find(|&top| greatest <= top);
        Self {
            top_percent: top.unwrap_or(greatest),
        }
    }

    /// The colour of a strain.
    pub fn colour(self, strain_percent: f64) -> Color32 {
        let share = (strain_percent / self.top_percent).clamp(0.0, 1.0) as f32;
        let channel = |index: usize| egui::lerp(LEAST[index]..=MOST[index], share) as u8;
        Color32::from_rgb(channel(0), channel(1), channel(2))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_strain_is_always_brighter() {
        let scale = StrainScale { top_percent: 5.0 };
        let lightness = |percent: f64| {
            let [r, g, b, _] = scale.colour(percent).to_array();
            u32::from(r) + u32::from(g) + u32::from(b)
        };
        let steps: Vec<u32> = (0..=10).map(|k| lightness(0.5 * f64::from(k))).collect();
        assert!(steps.windows(2).all(|pair| pair[0] < pair[1]), "{steps:?}");
        assert_eq!(scale.colour(7.0), scale.colour(5.0));
    }
}
