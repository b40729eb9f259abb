//! The case difficulty assessment of a case among its findings.

use serde::Serialize;

use super::class_probabilities::ClassProbabilities;
use crate::curvature::DifficultyClass;
use crate::units::Quantity;

/// The assessment of a case.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct AssessmentFinding {
    /// The form.
    pub form: &'static str,
    /// The class of the case; `null` while an open row could still raise it.
    pub class: Option<DifficultyClass>,
    /// The class of the rows assessed so far; `null` without any.
    pub so_far: Option<DifficultyClass>,
    /// How likely each class is by the rows assessed so far; `null` where no
    /// uncertainty was asked for.
    pub probabilities: Option<ClassProbabilities>,
    pub rows_assessed: usize,
    pub rows_open: usize,
    /// Every row of the form, in its order.
    pub rows: Vec<RowFinding>,
}

/// One row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowFinding {
    pub key: &'static str,
    pub group: &'static str,
    pub name: &'static str,
    /// The class that counts; `null`: not assessed.
    pub class: Option<DifficultyClass>,
    /// Where it comes from: `entered`, `measured`, `tooth` (its number); `null`
    /// where the row is open.
    pub source: Option<&'static str>,
    /// How likely each class is; `null` where the row is open or no
    /// uncertainty was asked for.
    pub probabilities: Option<ClassProbabilities>,
    /// What the film says, also where an entry wins.
    pub measured: Option<MeasuredRow>,
    /// How well the limits of the row are known.
    pub limits: &'static str,
}

/// What the film says of a row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasuredRow {
    pub class: DifficultyClass,
    pub probabilities: Option<ClassProbabilities>,
    pub value: Option<Quantity>,
    /// Unit of `value`: `deg` or `mm`; empty without one.
    pub unit: &'static str,
    /// The canal that decides; `null` where none does alone.
    pub canal: Option<String>,
    /// What was measured, in words.
    pub from: String,
}
