//! The results of one case. Field names are the JSON keys of `measure --json`.

use std::ops::{Index, IndexMut};

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::curvature::{CurvatureQuantity, QUANTITIES, QuantityRow};

pub use crate::units::Quantity;

/// Everything computed from one case.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Findings {
    /// The case file, as it was named.
    pub case: String,
    /// Monte Carlo draws that the intervals rest on; `null` for the linear
    /// law.
    pub draws: Option<usize>,
    /// The scale in force.
    pub scale: ScaleFinding,
    /// One entry per canal, in case order.
    pub canals: Vec<CanalFindings>,
    /// What the user should know or mend.
    pub warnings: Vec<Warning>,
}

impl Findings {
    /// The warnings that no canal's advice says already, word for word.
    pub fn warnings_beyond_advice(&self) -> impl Iterator<Item = &Warning> {
        let is_advice = |warning: &Warning| {
            let mut canals = self.canals.iter();
            let own = canals.find(|canal| Some(&canal.name) == warning.canal.as_ref());
            own.is_some_and(|canal| canal.advice.contains(&warning.text))
        };
        self.warnings
            .iter()
            .filter(move |warning| !is_advice(warning))
    }
}

/// The scale in force and where it came from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleFinding {
    /// Source code, for example `file`, `ruler`, `imager_pixel_spacing`,
    /// `none`.
    pub source: String,
    /// The source in words.
    pub description: String,
    /// True mm in the tooth's plane per px; `null` without a scale.
    pub mm_per_px: Option<f64>,
    /// Standard uncertainty of `mm_per_px`.
    pub u_mm_per_px: Option<f64>,
    /// Apparent mm at the detector / true mm, where pitch and object are both
    /// known.
    pub magnification: Option<f64>,
}

/// A condition the user must hear of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Warning {
    /// Stable code.
    pub code: String,
    /// Plain words: what, where, what to do.
    pub text: String,
    /// Canal it speaks of, when it speaks of one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub canal: Option<String>,
}

/// All numbers of one canal; `None` (JSON `null`) where a quantity cannot be
/// had, with a reason among the warnings.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CanalFindings {
    /// The canal's name.
    pub name: String,
    /// Length of the drawn curve, orifice → apex.
    pub curved_length_mm: Option<Quantity>,
    /// The same in px.
    pub curved_length_px: Option<f64>,
    /// Straight distance orifice → end of trace.
    pub chord_mm: Option<Quantity>,
    /// Reference point → apex along the path.
    pub reference_to_apex_mm: Option<Quantity>,
    /// File tip → apex along the path; positive = short of the apex.
    pub tip_to_apex_mm: Option<Quantity>,
    /// File tip → apex straight, same sign.
    pub tip_to_apex_straight_mm: Option<Quantity>,
    /// Set length + tip-to-apex − allowance.
    pub working_length_additive_mm: Option<Quantity>,
    /// Grossman length − allowance.
    pub working_length_proportion_mm: Option<Quantity>,
    /// Additive (else proportion) rounded towards short for the chart.
    pub working_length_chart_mm: Option<f64>,
    /// Allowance in force.
    pub allowance_mm: f64,
    /// What the usual conventions say about the tip.
    pub advice: Vec<String>,
    /// Curvature by every method; `None` with fewer than four points.
    pub curvature: Option<CurvatureFindings>,
    /// What each main result's uncertainty is made of.
    pub budget: Vec<Budget>,
}

/// What the uncertainty of one result is made of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Budget {
    /// Key of the result beside which it stands, for example
    /// `working_length_additive_mm`, `schneider_deg`, `curves[0].turn_deg`.
    pub result: String,
    /// Greatest share first; shares add up to 1.
    pub lines: Vec<BudgetLine>,
    /// What to do about the greatest; `null` when nothing is uncertain.
    pub remedy: Option<String>,
}

/// One kind of input in a [`Budget`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BudgetLine {
    /// Stable code, for example `set_length`.
    pub input: String,
    /// The input in words: "the file's set length".
    pub words: String,
    /// Its part of the result's variance, 0–1, by the linear law.
    pub share: f64,
    /// Standard uncertainty it gives the result, in the result's unit.
    pub u: f64,
}

/// Curvature by every method. A number is read by its quantity,
/// `found[CurvatureQuantity::Schneider]`; in JSON it stands under its key.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CurvatureFindings {
    /// Always true: angles and radii are those of the canal's shadow. One film
    /// cannot know how much of a bend points towards or away from the source.
    pub as_projected: bool,
    /// By [`CurvatureQuantity`], in the unit of its key.
    pub(super) values: [Option<Quantity>; CurvatureQuantity::COUNT],
    /// From the orifice.
    pub curves: Vec<CurveFinding>,
    pub s_shaped: bool,
    pub difficulty: DifficultyFinding,
}

impl Index<CurvatureQuantity> for CurvatureFindings {
    type Output = Option<Quantity>;

    fn index(&self, quantity: CurvatureQuantity) -> &Self::Output {
        &self.values[quantity as usize]
    }
}

impl IndexMut<CurvatureQuantity> for CurvatureFindings {
    fn index_mut(&mut self, quantity: CurvatureQuantity) -> &mut Self::Output {
        &mut self.values[quantity as usize]
    }
}

impl Serialize for CurvatureFindings {
    /// The numbers of the methods, the curves, then what holds for the whole
    /// path.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("as_projected", &self.as_projected)?;
        let (of_methods, of_path): (Vec<_>, Vec<_>) =
            QUANTITIES.iter().partition(|row| row.method.is_some());
        let entries = |map: &mut S::SerializeMap, rows: Vec<&QuantityRow>| {
            rows.into_iter()
                .try_for_each(|row| match self[row.quantity] {
                    found if row.has_interval => map.serialize_entry(row.key, &found),
                    found => map.serialize_entry(row.key, &found.map(|q| q.value)),
                })
        };
        entries(&mut map, of_methods)?;
        map.serialize_entry("curves", &self.curves)?;
        entries(&mut map, of_path)?;
        map.serialize_entry("s_shaped", &self.s_shaped)?;
        map.serialize_entry("difficulty", &self.difficulty)?;
        map.end()
    }
}

/// One bend of a canal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurveFinding {
    /// Signed: positive turns clockwise on the film.
    pub turn_deg: Option<Quantity>,
    pub radius_mm: Option<Quantity>,
    pub start_from_apex_mm: Option<f64>,
    pub end_from_apex_mm: Option<f64>,
}

/// The canal-curvature row of the case difficulty form.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DifficultyFinding {
    /// `low`, `moderate` or `high`; `null` without an angle.
    pub class: Option<String>,
    /// Code of the method the class was read from: `schneider` or `s_shape`.
    pub method: String,
    /// The other classes that the 95 % interval of Schneider's angle reaches.
    pub reaches: Vec<String>,
}

impl DifficultyFinding {
    /// The class with its method, the likeliest first: "moderate or high
    /// (Schneider)"; `None` without a class.
    pub fn words(&self) -> Option<String> {
        let class = self.class.as_ref()?;
        let method = match self.method.as_str() {
            "schneider" => "Schneider",
            "s_shape" => "S-shaped canal",
            other => other,
        };
        let classes: Vec<&str> = [class]
            .into_iter()
            .chain(&self.reaches)
            .map(String::as_str)
            .collect();
        Some(format!("{} ({method})", classes.join(" or ")))
    }
}
