//! The results of one comparison. Field names are the JSON keys of
//! `before-after --json`.

use std::collections::BTreeMap;

use serde::Serialize;

use super::aberrations::AberrationKind;
use super::measures::Side;
use crate::case::Canal;
use crate::measure::findings::Warning;
use crate::units::Quantity;

/// Everything computed from two films.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapingFindings {
    /// The cases, as they were named.
    pub before: String,
    pub after: String,
    /// Monte Carlo draws.
    pub draws: usize,
    pub registration: RegistrationFinding,
    pub canals: Vec<CanalShaping>,
    /// What the user should know or mend.
    pub warnings: Vec<Warning>,
}

/// How the films lie over each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RegistrationFinding {
    /// Names of the marks in use.
    pub marks: Vec<String>,
    /// Turn of the second film against the first, clockwise positive.
    pub rotation_deg: f64,
    /// px of the second film per px of the first.
    pub scale: f64,
    /// `calibrations` or `marks`.
    pub scale_source: &'static str,
    /// What the marks alone say.
    pub scale_from_marks: f64,
    /// Root mean square distance between marks laid over each other.
    pub residual_mm: Option<f64>,
    /// The same in px of the first film.
    pub residual_px: f64,
    /// What careful clicks leave on average.
    pub expected_residual_mm: Option<f64>,
    /// Predicted error at the end of the first canal, root mean square.
    pub error_at_apex_mm: Option<f64>,
    /// The mark that fits worst, and how far it is off.
    pub worst_mark: String,
    pub worst_mark_off_mm: Option<f64>,
    pub worst_mark_off_px: f64,
}

/// One canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CanalShaping {
    pub name: String,
    /// Predicted registration error at this canal's end, root mean square.
    pub error_at_end_mm: Option<f64>,
    pub levels: Vec<LevelFinding>,
    /// Angle before less angle after, by method.
    pub straightening_deg: BTreeMap<&'static str, Option<Quantity>>,
    /// Curve by curve, counted from the end.
    pub curves: Vec<CurveShaping>,
    /// After less before: negative is a loss.
    pub length_change_mm: Option<Quantity>,
    /// The part that geometry alone explains.
    pub length_change_explained_mm: Option<f64>,
    /// How far short of the first trace's end the second ends.
    pub ends_short_mm: Option<f64>,
    pub findings: Vec<AberrationFinding>,
}

/// One level.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelFinding {
    pub from_end_mm: f64,
    pub width_before_mm: Option<Quantity>,
    pub width_after_mm: Option<Quantity>,
    pub removed_left_mm: Option<Quantity>,
    pub removed_right_mm: Option<Quantity>,
    /// Removed left less removed right (Gambill 1996): positive moves left.
    pub transport_mm: Option<Quantity>,
    /// Half the transport.
    pub centre_shift_mm: Option<Quantity>,
    pub centring_ratio: Option<f64>,
    pub centring_ratio_u95: Option<f64>,
    /// Difference of the removals over the final width: 0 is perfect.
    pub movement_ratio: Option<f64>,
    /// Root's outline to the wall after.
    pub remaining_left_mm: Option<Quantity>,
    pub remaining_right_mm: Option<Quantity>,
    /// The side away from which the curve bends.
    pub outer_side: Option<Side>,
    /// What is missing or odd, in words.
    pub note: String,
}

/// One curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurveShaping {
    /// Clockwise positive.
    pub turn_before_deg: Option<Quantity>,
    pub turn_after_deg: Option<Quantity>,
    /// Positive: straighter.
    pub straightening_deg: Option<Quantity>,
    pub radius_before_mm: Option<Quantity>,
    pub radius_after_mm: Option<Quantity>,
    pub radius_change_mm: Option<Quantity>,
    pub start_from_end_mm: Option<f64>,
    pub end_from_end_mm: Option<f64>,
}

/// An aberration by a stated rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AberrationFinding {
    pub kind: AberrationKind,
    pub from_end_mm: f64,
    /// Depth of a zip, width of an elbow, step of a ledge, remaining wall,
    /// lost length.
    pub size_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Share of the draws in which the rule holds.
    pub share_of_draws: f64,
    /// What was found, in words.
    pub text: String,
}

/// A warning about one canal.
pub(super) fn warning_of(code: &str, text: String, canal: &Canal) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: Some(canal.name.clone()),
    }
}
