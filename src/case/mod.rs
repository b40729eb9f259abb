//! The case: what the user entered, and nothing that can be recomputed.
//!
//! A case is one film, its scale objects, the tooth and its canals, stored as
//! UTF-8 JSON (`*.case.json`). Keys this version does not know are kept on
//! saving, at every level.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::units::FilmPoint;

pub use crate::tooth::ToothNotation;
use crate::tooth::ToothNumber;
pub use assessment::CaseAssessment;
pub use earlier_film::EarlierFilm;
pub use file::{
    CaseError, MAX_CASE_BYTES, check_film_hash, existing_film_path, film_path, is_case_path, load,
    load_with_hash, parse, save, save_beside, save_over, to_json,
};
pub use followed::Followed;
pub use landmark::{LANDMARKS, Landmark, LandmarkRow, Stroke};
pub use marks::Mark;
pub use object::{OBJECTS, ObjectRow, ObjectTool, Outline, ScaleObjectKind};
pub use of_films::{CasesOfFilms, cases_of_films};
pub use second_film::{Receptor, RightOfFilm, SecondFilm, SourceSide};
pub use shaping::{ReadPoint, ShapingFile, WallReading, WallReadings, WallSide, Walls};
pub use student::Student;
pub use uncertainty::{ByPlaceKind, PlaceKind, StatedUncertainty};

mod assessment;
mod earlier_film;
pub mod edit;
mod file;
mod followed;
mod landmark;
mod marks;
mod object;
mod of_films;
mod resized;
mod second_film;
mod segments;
mod shaping;
mod student;
mod uncertainty;

/// Value of the `format` key in every case file.
pub const FORMAT: &str = "lengthfilm-case";
/// Newest case version this program reads and the one it writes.
pub const VERSION: u32 = 1;

/// One film with everything the user entered about it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Case {
    /// Always [`FORMAT`].
    pub format: String,
    /// At most [`VERSION`].
    #[schemars(range(min = 1))]
    pub version: u32,
    /// Which film, and what is known about how it was taken.
    pub film: FilmReference,
    /// Objects of known size on the film.
    #[serde(default)]
    pub scale: ScaleInputs,
    /// The tooth under treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tooth: Option<Tooth>,
    /// Canals in the order the user made them.
    #[serde(default)]
    pub canals: Vec<Canal>,
    /// Who placed the points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observer: Option<String>,
    /// Places found again on another film of the same object, by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<Mark>,
    /// Standard uncertainty of one click per coordinate, mm at the detector.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub click_noise_mm: Option<f64>,
    /// The same for single kinds of place; wins over `click_noise_mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub click_noise_by_kind_mm: Option<ByPlaceKind>,
    /// Degrees of freedom of `click_noise_by_kind_mm` where it was measured
    /// from repeated clicks; absent: taken as exactly known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub click_noise_dof_by_kind: Option<ByPlaceKind>,
    /// How well the other inputs are known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input_uncertainty: Option<StatedUncertainty>,
    /// Entries of the case difficulty assessment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assessment: Option<CaseAssessment>,
    /// A second film of the same tooth from another direction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_film: Option<SecondFilm>,
    /// Who hands the case in, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub student: Option<Student>,
    /// Seed of the Monte Carlo draws.
    #[serde(default = "default_seed")]
    pub seed: u64,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Case {
    /// A case on the film at `path` of which nothing else is known.
    pub fn on_film(path: impl Into<String>) -> Self {
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            film: FilmReference {
                path: path.into(),
                ..FilmReference::default()
            },
            scale: ScaleInputs::default(),
            tooth: None,
            canals: Vec::new(),
            observer: None,
            marks: Vec::new(),
            click_noise_mm: None,
            click_noise_by_kind_mm: None,
            click_noise_dof_by_kind: None,
            input_uncertainty: None,
            assessment: None,
            second_film: None,
            student: None,
            seed: default_seed(),
            extra: Map::new(),
        }
    }
}

fn default_seed() -> u64 {
    1
}

/// The film of a case and what is known about its exposure.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FilmReference {
    /// Path of the film file, relative to the case file's folder or absolute.
    pub path: String,
    /// Lower-case hex SHA-256 of the film file; absent or null: not checked.
    #[serde(default)]
    pub sha256: Option<String>,
    /// Typed date of exposure, ISO 8601.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// What made the film, by the name its pixel pitch is known under, for
    /// example `plate reader 2`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<String>,
    /// Typed pixel pitch `[row, column]` in mm at the detector.
    #[serde(default)]
    pub pixel_pitch_mm: Option<[f64; 2]>,
    /// Typed magnification M = apparent mm at the detector / true mm.
    #[serde(default)]
    pub magnification: Option<f64>,
    /// Typed source–detector distance (SID), mm.
    #[serde(default)]
    pub source_to_detector_mm: Option<f64>,
    /// Typed source–tooth distance (SOD), mm.
    #[serde(default)]
    pub source_to_tooth_mm: Option<f64>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// What gives the scale besides the film's own facts.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScaleInputs {
    /// Objects of known size traced on the film, in the order the user made
    /// them.
    #[serde(default)]
    pub objects: Vec<ScaleObject>,
    /// The scale that an earlier film gave.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier_film: Option<EarlierFilm>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// An object of known size traced on the film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScaleObject {
    /// What the object is; decides how its points are read.
    pub kind: ScaleObjectKind,
    /// Name of the canal a file stands in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub canal: Option<String>,
    /// Known length, mm (file: tooth-side face of the stop to the tip).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub true_length_mm: Option<f64>,
    /// Known diameter of a ball, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub true_diameter_mm: Option<f64>,
    /// The known length is a nominal ISO length (±0.5 mm), not a reading.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub nominal: bool,
    /// File: stop face → tip along its curve. Ruler: its two ends. Ball: two
    /// ends of a diameter, or three and more points on its rim.
    pub points_px: Vec<FilmPoint>,
    /// The points were suggested (assisted) and not moved since.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub assisted: bool,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// A tooth in one of the trade's notations.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Tooth {
    /// How `number` is to be read.
    pub notation: ToothNotation,
    /// For example `36` (FDI), `19` (universal).
    pub number: String,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Tooth {
    /// That tooth as `notation` writes it.
    pub fn new(tooth: ToothNumber, notation: ToothNotation) -> Self {
        Self {
            notation,
            number: tooth.in_notation(notation),
            extra: Map::new(),
        }
    }
}

/// One canal: its landmarks, its trace and the file standing in it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Canal {
    /// For example `MB`.
    pub name: String,
    /// Coronal reference point the working length is measured from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_px: Option<FilmPoint>,
    /// The reference point in words, for example `MB cusp`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_name: Option<String>,
    /// Trace, orifice → apex.
    #[serde(default)]
    pub trace_px: Vec<FilmPoint>,
    /// The trace was suggested (assisted) and not moved since.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub assisted: bool,
    /// What the film says of the line where it was followed. Where a point is
    /// dragged its readings go.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub followed: Option<Followed>,
    /// The file standing in this canal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<CanalFile>,
    /// Radiographic apex: the end of the root's outline.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub apex_px: Option<FilmPoint>,
    /// The apex was suggested (assisted) and not moved since.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub apex_assisted: bool,
    /// Foramen, where it can be seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foramen_px: Option<FilmPoint>,
    /// Distance from the apex at which to stop; absent: 1.0 mm (docs/methods.md 4).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowance_mm: Option<f64>,
    /// Curvature landmarks the user has moved, by name; they win over the
    /// automatic ones.
    #[serde(default)]
    pub landmarks: BTreeMap<String, FilmPoint>,
    /// The canal's walls, where they were traced or followed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub walls: Option<Walls>,
    /// The files it is to be shaped with, in the order of use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shaping_files: Vec<ShapingFile>,
    /// The root's outline on either side of the canal, left and right as for
    /// `walls`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub root_outline: Option<Walls>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Case {
    /// The file traced in a canal.
    pub fn own_file(&self, canal: &Canal) -> Option<&ScaleObject> {
        self.scale.objects.iter().find(|object| {
            object.kind == ScaleObjectKind::File
                && object.canal.as_deref() == Some(canal.name.as_str())
        })
    }

    /// The trace of a canal runs from the apex to the orifice.
    pub fn runs_from_apex(&self, canal: &Canal) -> bool {
        let stop = self.own_file(canal).and_then(|file| file.points_px.first());
        canal.runs_from_apex(stop.copied())
    }

    /// The file of a canal is traced from its tip to its stop, as told by the
    /// first of these that is there: reference point, apex, tip, end of the trace.
    pub fn file_runs_from_tip(&self, canal: &Canal) -> bool {
        let Some([first, .., last]) = self.own_file(canal).map(|file| file.points_px.as_slice())
        else {
            return false;
        };
        let tip = canal.file.as_ref().and_then(|file| file.tip_px);
        let apical = |end: FilmPoint| end.distance_px(*first) < end.distance_px(*last);
        let coronal = |start: FilmPoint| start.distance_px(*last) < start.distance_px(*first);
        None.or(canal.reference_px.map(coronal))
            .or(canal.apex_px.map(apical))
            .or(tip.map(apical))
            .or(canal.trace_px.last().copied().map(apical))
            .unwrap_or(false)
    }
}

impl Canal {
    /// The trace runs the wrong way: from the apex to the orifice, as told by
    /// the first of these that is there: the placed apex, the coronal reference
    /// point, the `stop` of the canal's own file, the file's tip.
    pub fn runs_from_apex(&self, stop: Option<FilmPoint>) -> bool {
        let [first, .., last] = self.trace_px.as_slice() else {
            return false;
        };
        let tip = self.file.as_ref().and_then(|file| file.tip_px);
        let apical = |end: FilmPoint| end.distance_px(*first) < end.distance_px(*last);
        let coronal = |start: FilmPoint| start.distance_px(*last) < start.distance_px(*first);
        None.or(self.apex_px.map(apical))
            .or(self.reference_px.or(stop).map(coronal))
            .or(tip.map(apical))
            .unwrap_or(false)
    }
}

/// The file standing in a canal.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CanalFile {
    /// Length set between stop and tip, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_length_mm: Option<f64>,
    /// Where the tip shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_px: Option<FilmPoint>,
    /// The tip was suggested (assisted) and not moved since.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub assisted: bool,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}
