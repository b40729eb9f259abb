//! What outlives the window but belongs to no case.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::desktop::state::own_click_noise::OwnClickNoise;
use crate::measure::MeasureSettings;
use crate::tooth::ToothNotation;
use crate::working_length::DEFAULT_CHART_STEP_MM;

/// Files kept in the recent list.
const RECENT_COUNT: usize = 10;
/// Smallest and largest text, against the normal size.
const TEXT_SCALE_RANGE: (f32, f32) = (0.8, 2.0);
/// One step of the text size.
const TEXT_SCALE_STEP: f32 = 0.1;

/// Key in the window's storage.
pub const STORAGE_KEY: &str = "lengthfilm_preferences";

/// What the ruler along the canal counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Ruler {
    Hidden,
    #[default]
    FromApex,
    FromReference,
}

impl Ruler {
    /// The next in turn.
    pub fn next(self) -> Self {
        match self {
            Self::FromApex => Self::FromReference,
            Self::FromReference => Self::Hidden,
            Self::Hidden => Self::FromApex,
        }
    }

    /// What it shows, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::FromApex => "Ruler: mm from the apex, thirds of the canal",
            Self::FromReference => "Ruler: mm from the reference point",
            Self::Hidden => "Ruler hidden",
        }
    }
}

/// What makes films, with the pixel pitch at its detector.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Equipment {
    pub name: String,
    pub pitch_mm: f64,
}

/// Equipment remembered.
const MOST_EQUIPMENT: usize = 8;

/// The user's habits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Preferences {
    pub dark: bool,
    pub text_scale: f32,
    /// Films and cases, latest first.
    pub recent: Vec<PathBuf>,
    /// That list is kept; file names may hold those of patients.
    pub keeps_recent: bool,
    /// Step of the set-length buttons, mm: 0.5 or 0.25.
    pub length_step_mm: f64,
    /// Millimetre ticks along the canal.
    pub ruler: Ruler,
    /// How teeth are numbered in new cases.
    pub tooth_notation: ToothNotation,
    /// Step of the chart value, mm: 0.5 or 0.25.
    pub chart_step_mm: f64,
    /// What limits the results stands open.
    pub show_budget: bool,
    /// How well each input is known stands open.
    pub show_inputs: bool,
    /// Marks and walls stand open.
    pub show_marks: bool,
    /// The text of the chart note stands open.
    pub show_note: bool,
    /// Folder that a sensor's software writes films into.
    pub watched_folder: Option<PathBuf>,
    /// A new film there opens itself where nothing unsaved would be left.
    pub opens_new_films: bool,
    /// A film without points is looked over when it is opened.
    pub looks_over_films: bool,
    /// Equipment whose pitch was typed, latest first.
    pub equipment: Vec<Equipment>,
    /// Who measures; new cases begin with it.
    pub observer: String,
    /// The person's own click noise stands open.
    pub show_click_noise: bool,
    /// Click noise measured by repeating; new cases start with it.
    pub own_click_noise: OwnClickNoise,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            dark: true,
            text_scale: 1.0,
            recent: Vec::new(),
            keeps_recent: true,
            length_step_mm: 0.5,
            ruler: Ruler::default(),
            tooth_notation: ToothNotation::Fdi,
            chart_step_mm: DEFAULT_CHART_STEP_MM,
            show_budget: false,
            show_inputs: false,
            show_marks: false,
            show_note: false,
            watched_folder: None,
            opens_new_films: true,
            looks_over_films: true,
            equipment: Vec::new(),
            observer: String::new(),
            show_click_noise: false,
            own_click_noise: OwnClickNoise::default(),
        }
    }
}

impl Preferences {
    /// Puts the pitch of an equipment at the head of those remembered.
    pub fn remember_pitch(&mut self, name: &str, pitch_mm: f64) {
        self.equipment.retain(|known| known.name != name);
        let name = name.to_owned();
        self.equipment.insert(0, Equipment { name, pitch_mm });
        self.equipment.truncate(MOST_EQUIPMENT);
    }

    /// Puts a file at the head of the recent list, if that is kept.
    pub fn remember(&mut self, path: &Path) {
        if !self.keeps_recent {
            return;
        }
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        self.recent.retain(|known| known != &path);
        self.recent.insert(0, path);
        self.recent.truncate(RECENT_COUNT);
    }

    /// Keeps the recent list from now on, or no longer: then it is emptied too.
    pub fn keep_recent(&mut self, keep: bool) {
        self.keeps_recent = keep;
        if !keep {
            self.recent.clear();
        }
    }

    /// Makes the text larger (`1`) or smaller (`-1`).
    pub fn change_text(&mut self, steps: i8) {
        let scale = self.text_scale + f32::from(steps) * TEXT_SCALE_STEP;
        self.text_scale = scale.clamp(TEXT_SCALE_RANGE.0, TEXT_SCALE_RANGE.1);
    }

    /// The conventions to measure by.
    pub fn settings(&self) -> MeasureSettings {
        MeasureSettings {
            chart_step_mm: self.chart_step_mm,
            ..MeasureSettings::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_recent_list_holds_each_file_once_latest_first() {
        let mut preferences = Preferences::default();
        for n in 0..14 {
            preferences.remember(Path::new(&format!("/films/{n}.png")));
        }
        preferences.remember(Path::new("/films/9.png"));
        assert_eq!(preferences.recent.len(), RECENT_COUNT);
        assert_eq!(preferences.recent[0], Path::new("/films/9.png"));
        assert_eq!(preferences.recent[1], Path::new("/films/13.png"));
    }

    #[test]
    fn a_list_switched_off_is_empty_and_stays_so() {
        let mut preferences = Preferences::default();
        preferences.remember(Path::new("/films/a.png"));
        preferences.keep_recent(false);
        preferences.remember(Path::new("/films/b.png"));
        assert_eq!(preferences.recent, Vec::<PathBuf>::new());
        preferences.keep_recent(true);
        preferences.remember(Path::new("/films/c.png"));
        assert_eq!(preferences.recent.len(), 1);
    }

    #[test]
    fn unknown_and_missing_keys_do_not_lose_the_rest() {
        let read: Preferences = serde_json::from_str(r#"{"dark":false,"later":1}"#).expect("reads");
        assert!(!read.dark);
        assert_eq!(read.length_step_mm, 0.5);
    }
}
