//! How well two pictures lie over each other, in numbers and words.

use super::findings::{CanalShaping, RegistrationFinding};
use super::pair::Pair;
use super::settings::ShapingSettings;
use crate::measure::findings::Warning;
use crate::registration::Scale;

/// What must be known before anything is read from the pair.
pub fn pair_warnings(pair: &Pair, settings: &ShapingSettings) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let mut warn = |code: &str, text: String| {
        warnings.push(Warning {
            code: code.to_owned(),
            text,
            canal: None,
        });
    };
    if pair.mm_before.is_none() {
        warn(
            "no_scale",
            "neither film has a scale: widths, removal and transport are not available; trace an \
             object of known length, or make the photograph flat (flatten) and enter its mm per px"
                .to_owned(),
        );
    }
    if settings.match_marks && !pair.marks_are_matched {
        warn(
            "marks_not_matched",
            "the pictures do not show the surroundings of every mark alike: the marks stand as \
             they were clicked"
                .to_owned(),
        );
    }
    if pair.names.len() == 3 {
        warn(
            "three_marks",
            "three marks leave little to check; place a fourth, so that they surround the canal"
                .to_owned(),
        );
    }
    let disagreement = pair.px_scale / pair.px_scale_from_marks - 1.0;
    let limit = settings.scale_disagreement.max(2.0 * pair.u_scale_ratio);
    if matches!(pair.scale, Scale::Fixed(_)) && disagreement.abs() > limit {
        warn(
            "scale_disagreement",
            format!(
                "the two calibrations and the marks disagree on the scale by {:.1} %; check both \
                 calibrations",
                100.0 * disagreement.abs()
            ),
        );
    }
    if pair.mark_excess > 1.0 {
        let worst = &pair.names[pair.registration.worst()];
        warn(
            "marks_fit_badly",
            format!(
                "the marks lie farther apart than careful clicks leave them ({:.1} times); mark \
                 \"{worst}\" fits worst: place it anew on both pictures",
                pair.mark_excess
            ),
        );
    }
    warnings
}

/// The registration; its error is stated at the end of the first canal.
pub fn registration_finding(pair: &Pair, first: &CanalShaping) -> RegistrationFinding {
    let registration = &pair.registration;
    let scale = registration.transform.scale;
    let worst = registration.worst();
    let has_scale = pair.mm_before.is_some();
    let mm = |length: f64| (has_scale && length.is_finite()).then_some(length);
    let px_per_mm = pair.px_per_mm();
    RegistrationFinding {
        marks: pair.names.clone(),
        rotation_deg: registration.transform.rotation_rad.to_degrees(),
        scale: pair.px_scale,
        scale_source: match pair.scale {
            Scale::Fixed(_) => "calibrations",
            Scale::Free => "marks",
        },
        scale_from_marks: pair.px_scale_from_marks,
        residual_mm: mm(registration.residual_rms / scale),
        residual_px: registration.residual_rms / scale * px_per_mm,
        expected_residual_mm: mm(pair.expected_residual()),
        error_at_apex_mm: first.error_at_end_mm,
        worst_mark: pair.names[worst].clone(),
        worst_mark_off_mm: mm(registration.residuals[worst] / scale),
        worst_mark_off_px: registration.residuals[worst] / scale * px_per_mm,
    }
}
