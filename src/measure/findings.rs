//! The results of one case. Field names are the JSON keys of `measure --json`.

use std::ops::{Index, IndexMut};

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::assessment_findings::AssessmentFinding;
use super::class_probabilities::ClassProbabilities;
use super::film_check_findings::FilmCheckFinding;
use crate::curvature::{CurvatureQuantity, DifficultyClass, QUANTITIES, QuantityRow};

use crate::uncertainty::rounding::{with_interval, with_u95};
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
    /// The case difficulty assessment.
    pub assessment: AssessmentFinding,
    /// What the film shows and hinders; `null` where the film was not looked
    /// at.
    pub film_check: Option<FilmCheckFinding>,
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
    /// 2.5 % and 97.5 % quantiles of radii, mm.
    pub(super) spans: [Option<[f64; 2]>; CurvatureQuantity::COUNT],
    /// From the orifice.
    pub curves: Vec<CurveFinding>,
    pub s_shaped: bool,
    /// How likely the canal is S-shaped; `None` where no uncertainty was asked
    /// for.
    pub s_shaped_probability: Option<f64>,
    pub difficulty: DifficultyFinding,
    /// What angles are read from: `film` where the line was followed on it,
    /// `trace`, or `film_and_trace`.
    pub angles_from: String,
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
        map.serialize_entry("angles_from", &self.angles_from)?;
        let (of_methods, of_path): (Vec<_>, Vec<_>) =
            QUANTITIES.iter().partition(|row| row.method.is_some());
        let entries = |map: &mut S::SerializeMap, rows: Vec<&QuantityRow>| {
            rows.into_iter()
                .try_for_each(|row| match self[row.quantity] {
                    Some(found) if row.has_interval => {
                        let span = self.spans[row.quantity as usize];
                        map.serialize_entry(row.key, &WithSpan::new(found, span))
                    }
                    found => map.serialize_entry(row.key, &found.map(|q| q.value)),
                })
        };
        entries(&mut map, of_methods)?;
        map.serialize_entry("curves", &self.curves)?;
        entries(&mut map, of_path)?;
        map.serialize_entry("s_shaped", &self.s_shaped)?;
        map.serialize_entry("s_shaped_probability", &self.s_shaped_probability)?;
        map.serialize_entry("difficulty", &self.difficulty)?;
        map.end()
    }
}

/// A quantity with its asymmetric interval where it has one.
#[derive(Serialize)]
struct WithSpan {
    value: f64,
    u95: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
}

impl WithSpan {
    fn new(Quantity { value, u95 }: Quantity, span: Option<[f64; 2]>) -> Self {
        Self {
            value,
            u95,
            low: span.map(|[low, _]| low),
            high: span.map(|[_, high]| high),
        }
    }
}

impl CurvatureFindings {
    /// What angles are read from, where that is not the trace alone.
    pub fn angles_from_words(&self) -> Option<&'static str> {
        match self.angles_from.as_str() {
            "film" => Some("the line the film shows"),
            "film_and_trace" => Some("the line the film shows, and the trace"),
            _ => None,
        }
    }

    /// A number with its 95 % interval in words and `unit` after it: ± U, or
    /// low–high where it is seldom even (radii).
    pub fn words(&self, row: &QuantityRow, unit: &str) -> Option<String> {
        let found = self[row.quantity]?;
        Some(match self.span(row.quantity) {
            Some(span) => with_interval(found.value, span, unit),
            None => with_u95(found, unit),
        })
    }

    /// 2.5 % and 97.5 % quantiles of a radius, mm.
    pub fn span(&self, quantity: CurvatureQuantity) -> Option<[f64; 2]> {
        self[quantity].and(self.spans[quantity as usize])
    }
}

/// One curve of a canal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurveFinding {
    /// Signed: positive turns clockwise on the film.
    pub turn_deg: Option<Quantity>,
    pub radius_mm: Option<Quantity>,
    /// 2.5 % and 97.5 % quantiles of the radius: its interval is seldom even
    /// about the value.
    pub radius_low_mm: Option<f64>,
    pub radius_high_mm: Option<f64>,
    /// Schneider's angle of this curve alone.
    pub schneider_deg: Option<Quantity>,
    pub start_from_apex_mm: Option<f64>,
    pub end_from_apex_mm: Option<f64>,
}

impl CurveFinding {
    /// 2.5 % and 97.5 % quantiles of the radius, mm.
    pub fn radius_span_mm(&self) -> Option<[f64; 2]> {
        self.radius_mm?;
        Some([self.radius_low_mm?, self.radius_high_mm?])
    }

    /// The radius with its 95 % interval in words and `unit` after it.
    pub fn radius_words(&self, unit: &str) -> Option<String> {
        let radius = self.radius_mm?;
        Some(match self.radius_span_mm() {
            Some(span) => with_interval(radius.value, span, unit),
            None => with_u95(radius, unit),
        })
    }
}

/// The canal-curvature row of the case difficulty form.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DifficultyFinding {
    /// `low`, `moderate` or `high` at the best estimates; `null` without an
    /// angle.
    pub class: Option<String>,
    /// Code of the method the class was read from: `schneider` or `s_shape`.
    pub method: String,
    /// The curve it was read from, counted from the orifice from 1; `null`
    /// where the canal is straight.
    pub curve: Option<usize>,
    /// The greatest Schneider angle of any of the canal's curves.
    pub angle_deg: Option<Quantity>,
    /// How likely each class is; `null` where no uncertainty was asked for.
    pub probabilities: Option<ClassProbabilities>,
    /// The other classes with a probability of 2.5 % or more.
    pub reaches: Vec<String>,
}

/// Classes less likely than this are not named.
const LEAST_PROBABILITY_IN_WORDS: f64 = 0.005;

impl DifficultyFinding {
    /// The classes with their probabilities and the method, the likeliest
    /// first: "moderate 84 %, high 16 % (Schneider, curve 1)"; `None` without
    /// a class.
    pub fn words(&self) -> Option<String> {
        let class = self.class.as_ref()?;
        let mut likely: Vec<_> = DifficultyClass::ALL
            .into_iter()
            .filter_map(|class| Some((class, self.probabilities?.of(class))))
            .filter(|(_, p)| *p >= LEAST_PROBABILITY_IN_WORDS)
            .collect();
        likely.sort_by(|a, b| b.1.total_cmp(&a.1));
        let classes = match likely[..] {
            [] => class.clone(),
            [(only, _)] => only.label().to_owned(),
            _ => {
                let parts = likely
                    .iter()
                    .map(|(class, p)| format!("{} {:.0} %", class.label(), 100.0 * p));
                parts.collect::<Vec<_>>().join(", ")
            }
        };
        Some(format!("{classes} ({})", self.method_words()))
    }

    fn method_words(&self) -> String {
        match (self.method.as_str(), self.curve) {
            ("schneider", Some(curve)) => format!("Schneider, curve {curve}"),
            ("schneider", None) => "Schneider".to_owned(),
            ("s_shape", _) => "S-shaped canal".to_owned(),
            (other, _) => other.to_owned(),
        }
    }
}
