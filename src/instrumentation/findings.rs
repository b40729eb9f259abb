//! What `instrument` finds. Field names are the JSON keys.

use serde::Serialize;

use crate::measure::findings::Warning;
use crate::uncertainty::rounding::{with_interval, with_u95};
use crate::units::Quantity;

/// Everything about files in the canals of one case.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InstrumentFindings {
    /// The case file, as it was named.
    pub case: String,
    /// Monte Carlo draws that the intervals rest on; `null`: none were made.
    pub draws: Option<usize>,
    /// The tooth's number (FDI), where the case names it.
    pub tooth_fdi: Option<String>,
    /// One entry per canal, in case order.
    pub canals: Vec<CanalInstruments>,
    /// What holds for every number here.
    pub notes: Vec<String>,
    pub warnings: Vec<Warning>,
}

/// Where a canal's course was taken from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CourseFrom {
    /// The shadow that the case's film shows.
    #[default]
    OneFilm,
    /// Its path in space.
    TwoFilms,
}

impl CourseFrom {
    /// The same in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::OneFilm => "course from one film",
            Self::TwoFilms => "course in space from two films",
        }
    }
}

/// Files in one canal.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CanalInstruments {
    pub name: String,
    /// The coronal reference point in words.
    pub reference_name: Option<String>,
    /// What the canal's course was taken from.
    pub canal_from: CourseFrom,
    /// Start of the trace → apex along the fitted path, mm; as projected where
    /// it is that of one film.
    pub trace_to_apex_mm: Option<f64>,
    pub working_length_mm: Option<Quantity>,
    pub working_length_chart_mm: Option<f64>,
    /// From the apex, where the working length ends.
    pub allowance_mm: f64,
    /// Coronal first.
    pub bends: Vec<BendFinding>,
    /// Thirds of the traced canal, coronal first.
    pub thirds: Vec<ThirdFinding>,
    /// Stretch over which the walls gave widths, `[from, to]` the apex, mm.
    pub walls_from_apex_mm: Option<[f64; 2]>,
    pub files: Vec<FileFinding>,
    pub card: Vec<CardLine>,
    /// The widest that the files leave at each level.
    pub shaped: Vec<ShapedFinding>,
}

/// One bend, for pre-curving.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct BendFinding {
    /// On one film signed: positive turns clockwise; in space not negative.
    pub turn_deg: Option<Quantity>,
    pub radius_mm: Option<Quantity>,
    /// 2.5 % and 97.5 % quantiles of the radius.
    pub radius_low_mm: Option<f64>,
    pub radius_high_mm: Option<f64>,
    pub start_from_apex_mm: f64,
    pub end_from_apex_mm: f64,
    /// From the coronal reference point, along the canal.
    pub start_from_reference_mm: Option<f64>,
    pub end_from_reference_mm: Option<f64>,
    /// The third in which its middle lies.
    pub third: String,
    /// Where it bends to in space, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub towards: Option<String>,
}

impl BendFinding {
    /// Its third, and where it bends to where that is known.
    pub fn place_words(&self) -> String {
        let towards = self.towards.as_ref();
        let towards = towards.map_or(String::new(), |words| format!(", towards {words}"));
        format!("{} third{towards}", self.third)
    }

    /// The radius with its 95 % interval in words.
    pub fn radius_words(&self) -> Option<String> {
        let radius = self.radius_mm?;
        Some(match (self.radius_low_mm, self.radius_high_mm) {
            (Some(low), Some(high)) => with_interval(radius.value, [low, high], "mm"),
            _ => with_u95(radius, "mm"),
        })
    }
}

/// A third of the traced canal.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ThirdFinding {
    pub third: String,
    pub start_from_apex_mm: f64,
    pub end_from_apex_mm: f64,
    pub start_from_reference_mm: Option<f64>,
    pub end_from_reference_mm: Option<f64>,
}

/// One file in one canal.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct FileFinding {
    /// For example `25/.06`.
    pub file: String,
    pub size: f64,
    /// `null`: variable.
    pub taper: Option<f64>,
    pub working_part_mm: f64,
    /// `[from the tip, diameter]`, mm.
    pub diameters_mm: Vec<[f64; 2]>,
    /// ISO 3630-1, in words.
    pub colour: String,
    pub tip_from_apex_mm: f64,
    pub peak_strain_percent: Option<Quantity>,
    pub peak_from_apex_mm: Option<f64>,
    /// Half width of the 95 % interval of the peak's place.
    pub peak_place_u95_mm: Option<f64>,
    pub peak_from_tip_mm: Option<f64>,
    pub diameter_at_peak_mm: Option<f64>,
    /// How many times more it is bent than the first file.
    pub times_first: Option<Quantity>,
    /// Length of the working part in any bend.
    pub in_bend_mm: Option<f64>,
    /// Part in each bend, in the order of `bends`.
    pub in_bends: Vec<PartFinding>,
    pub binds: Option<Binds>,
    pub profile: Vec<ProfilePoint>,
}

/// The part of a file in one bend.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PartFinding {
    /// Number of the bend, counted from 1.
    pub bend: usize,
    pub from_tip_mm: f64,
    pub to_tip_mm: f64,
    /// Share of the working part, per cent.
    pub share_percent: f64,
}

/// Where a file binds mesiodistally without cutting.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Binds {
    pub passive_tip_from_apex_mm: f64,
    /// Half width of its 95 % interval.
    pub passive_tip_u95_mm: Option<f64>,
    /// `null`: reaches the end of the traced walls without touching.
    pub contact_from_apex_mm: Option<f64>,
    /// Half width of its 95 % interval, over the draws in which it touches.
    pub contact_u95_mm: Option<f64>,
}

/// One place along a file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ProfilePoint {
    pub from_apex_mm: f64,
    pub diameter_mm: f64,
    pub curvature_per_mm: f64,
    pub strain_percent: f64,
}

/// One line of the shaping card.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CardLine {
    pub file: String,
    pub colour: String,
    pub step_back_mm: f64,
    /// What the stop is set to.
    pub stop_mm: Option<f64>,
    pub tip_from_apex_mm: f64,
    pub diameter_left_mm: Vec<LevelFinding>,
}

/// A diameter at one level.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LevelFinding {
    pub from_apex_mm: f64,
    pub mm: f64,
}

/// The widest left at one level.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapedFinding {
    pub from_apex_mm: f64,
    pub mm: f64,
    /// The file that leaves it.
    pub file: String,
}

impl InstrumentFindings {
    /// Leaves one canal of all, with what is said of it.
    pub fn keep_canal(&mut self, name: &str) {
        self.canals.retain(|canal| canal.name == name);
        self.warnings
            .retain(|warning| warning.canal.as_deref().is_none_or(|canal| canal == name));
    }
}
