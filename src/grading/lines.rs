//! How one limit of the rubric came out for one canal.

use serde::Serialize;

use super::measures::{Measure, Values};
use super::reference::Reference;
use super::reference_canal::ReferenceCanal;
use super::rubric::Rubric;
use super::rubric_line::{Judged, RubricLine};
use crate::uncertainty::rounding::{fixed, spaced};

/// How one limit came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Within the limit.
    Met,
    /// Outside it.
    NotMet,
    /// The student did not mark what the reference has: no points.
    Missing,
    /// The clicks decide more than the limit does: left out of the total.
    NotAssessable,
    /// The reference has nothing to compare with: left out of the total.
    NotAssessed,
    /// The line holds for other canals: left out of everything.
    NotApplicable,
}

impl Verdict {
    /// The key in JSON and CSV.
    pub fn key(self) -> &'static str {
        match self {
            Verdict::Met => "met",
            Verdict::NotMet => "not_met",
            Verdict::Missing => "missing",
            Verdict::NotAssessable => "not_assessable",
            Verdict::NotAssessed => "not_assessed",
            Verdict::NotApplicable => "not_applicable",
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Met => "met",
            Verdict::NotMet => "not met",
            Verdict::Missing => "missing",
            Verdict::NotAssessable => "not assessable",
            Verdict::NotAssessed => "not assessed",
            Verdict::NotApplicable => "not for this canal",
        }
    }

    /// Counts among the points that can be had.
    pub fn counts(self) -> bool {
        matches!(self, Verdict::Met | Verdict::NotMet | Verdict::Missing)
    }
}

/// One rubric line of one canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineGrade<M = Measure> {
    pub measure: M,
    pub value: Option<f64>,
    /// Expanded uncertainty (95 %) that the clicks give the value; of a count:
    /// findings that are not sure; `null` where it is not worked out.
    pub u95: Option<f64>,
    pub verdict: Verdict,
    pub points: f64,
    /// One sentence for the student.
    pub sentence: String,
}

impl<M: Judged> LineGrade<M> {
    /// `value` as `line` judges it, told to the student by `sentence`.
    pub fn new(
        line: &RubricLine<M>,
        value: Option<f64>,
        u95: Option<f64>,
        verdict: Verdict,
        sentence: String,
    ) -> Self {
        Self {
            measure: line.measure,
            value,
            u95,
            verdict,
            points: match (verdict, value) {
                (Verdict::Met | Verdict::NotMet, Some(value)) => line.points_of(value),
                _ => 0.0,
            },
            sentence,
        }
    }
}

/// Line `index` of the rubric for one canal. `values`: errors by measure;
/// `u95`: their uncertainty, where it is known.
pub(super) fn grade_line(
    rubric: &Rubric,
    index: usize,
    values: &Values,
    u95: &Values,
    reference: &Reference,
    wanted: &ReferenceCanal,
) -> LineGrade {
    let line = &rubric.lines[index];
    let value = values.get(&line.measure).copied();
    let u95 = u95.get(&line.measure).copied();
    let verdict = if rubric.holds_for(index, &wanted.name) {
        verdict(
            line,
            value,
            u95,
            is_expected(line.measure, reference, wanted),
        )
    } else {
        Verdict::NotApplicable
    };
    let sentence = sentence(line, value, u95, verdict);
    LineGrade::new(line, value, u95, verdict, sentence)
}

/// The reference has it, so that its absence is the student's.
fn is_expected(measure: Measure, reference: &Reference, wanted: &ReferenceCanal) -> bool {
    match measure {
        Measure::TipErrorMm => reference.has_scale() && wanted.tip.is_some(),
        Measure::TipErrorPx => !reference.has_scale() && wanted.tip.is_some(),
        Measure::WorkingEndToApexMm => wanted.tooth_length_mm.is_some(),
        measure => wanted.values.contains_key(&measure),
    }
}

/// A value whose uncertainty is wider than the limit can be neither met nor
/// missed, but for one that lies outside by more than the uncertainty.
pub fn verdict<M: Judged>(
    line: &RubricLine<M>,
    value: Option<f64>,
    u95: Option<f64>,
    expected: bool,
) -> Verdict {
    let Some(value) = value else {
        return match expected {
            true => Verdict::Missing,
            false => Verdict::NotAssessed,
        };
    };
    let u95 = u95.unwrap_or(0.0);
    let is_too_wide = line.half_width().is_some_and(|half| u95 > half);
    match () {
        () if is_too_wide && line.outside_by(value) <= u95 => Verdict::NotAssessable,
        () if line.is_met_by(value) => Verdict::Met,
        () => Verdict::NotMet,
    }
}

/// How a line came out, for the student.
pub fn sentence<M: Judged>(
    line: &RubricLine<M>,
    value: Option<f64>,
    u95: Option<f64>,
    verdict: Verdict,
) -> String {
    let (name, unit) = (line.measure.words(), spaced(line.measure.unit()));
    let limit = line.limit_words();
    let shown = value.map(|value| format!("{}{unit}", fixed(value, 2)));
    match (verdict, shown) {
        (Verdict::NotApplicable, _) => format!("{name}: not for this canal"),
        (Verdict::Missing, _) => format!("{name}: not marked in this trace (limit {limit})"),
        (_, None) | (Verdict::NotAssessed, _) => {
            format!("{name}: not assessed, the reference has none")
        }
        (Verdict::NotAssessable, Some(shown)) => format!(
            "{name}: {shown}, not assessable: clicks alone move it by ± {}{unit}, more than the limit ({limit}) allows",
            fixed(u95.unwrap_or(f64::NAN), 2)
        ),
        (Verdict::Met, Some(shown)) => format!("{name}: {shown}, within the limit ({limit})"),
        (Verdict::NotMet, Some(shown)) => format!("{name}: {shown}, outside the limit ({limit})"),
    }
}
