//! The short text for the patient's record.

use crate::case::Case;
use crate::case::edit::canal_in_words;
use crate::desktop::ui::wording::{
    capitalised, chart_length, rounded_from, tip_in_words, uncertainty_alone,
};
use crate::measure::findings::Findings;
use crate::uncertainty::rounding::with_u95;

/// The caution every note carries (docs/methods.md 9).
const CAUTION: &str =
    "One film is one projection: confirm the length electronically and clinically.";

/// The note for one canal; `None` when there is no working length to note.
pub fn chart_note(
    case: &Case,
    findings: &Findings,
    canal: usize,
    film_date: Option<&str>,
    chart_step_mm: f64,
) -> Option<String> {
    let content = case.canals.get(canal)?;
    let found = findings.canals.get(canal)?;
    let mut chart = chart_length(found.working_length_chart_mm?);

    let tooth = match &case.tooth {
        Some(tooth) => format!("Tooth {}, {}", tooth.number, canal_in_words(&content.name)),
        None => capitalised(&canal_in_words(&content.name)),
    };
    let reference = content
        .reference_name
        .as_deref()
        .unwrap_or("the reference point");
    let mut how = Vec::new();
    if let Some(set) = content.file.as_ref().and_then(|file| file.set_length_mm) {
        how.push(format!("file set at {}", chart_length(set)));
    }
    if let Some(tip) = &found.tip_to_apex_mm {
        how.push(format!(
            "tip {} ({})",
            tip_in_words(tip.value),
            uncertainty_alone(*tip, "mm")
        ));
    }
    how.push(format!("allowance {}", chart_length(found.allowance_mm)));
    let raw = found
        .working_length_additive_mm
        .as_ref()
        .or(found.working_length_proportion_mm.as_ref());
    if let Some(raw) = raw {
        chart = format!("{chart} {}", rounded_from(raw.value, chart_step_mm));
        how.push(format!("unrounded {}", with_u95(*raw, "mm")));
    }
    how.push(format!("scale: {}", findings.scale.description));
    let date = match film_date {
        Some(date) => format!("film of {date}"),
        None => "film date not stated".to_owned(),
    };
    Some(format!(
        "{tooth}: working length {chart} from {reference}.\n\
         From the film: {}; {date}.\n\
         {CAUTION}",
        how.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::edit::new_case;
    use crate::case::{CanalFile, Tooth, ToothNotation};
    use crate::measure::findings::{CanalFindings, ScaleFinding};
    use crate::units::Quantity;

    #[test]
    fn the_note_says_tooth_canal_reference_length_how_date_and_caution() {
        let mut case = new_case("a.png");
        case.tooth = Some(Tooth {
            notation: ToothNotation::Fdi,
            number: "36".into(),
            extra: serde_json::Map::new(),
        });
        case.canals[0].name = "MB".into();
        case.canals[0].reference_name = Some("MB cusp".into());
        case.canals[0].file = Some(CanalFile {
            set_length_mm: Some(20.0),
            ..CanalFile::default()
        });
        let mut findings = Findings {
            case: String::new(),
            draws: None,
            scale: ScaleFinding {
                source: "file".into(),
                description: "file of known length".into(),
                mm_per_px: Some(0.024),
                u_mm_per_px: Some(0.0002),
                magnification: None,
            },
            canals: vec![CanalFindings {
                tip_to_apex_mm: Some(Quantity {
                    value: 1.42,
                    u95: 0.15,
                }),
                working_length_additive_mm: Some(Quantity {
                    value: 20.42,
                    u95: 0.3,
                }),
                working_length_chart_mm: Some(20.0),
                allowance_mm: 1.0,
                ..CanalFindings::default()
            }],
            assessment: Default::default(),
            warnings: Vec::new(),
        };
        let note = chart_note(&case, &findings, 0, Some("2026-03-04"), 0.5).expect("a length");
        assert_eq!(
            note,
            "Tooth 36, canal MB: working length 20.0 mm (20.42, rounded down to 0.5) from MB cusp.\n\
             From the film: file set at 20.0 mm, tip 1.4 mm short of the apex (± 0.15 mm), \
             allowance 1.0 mm, unrounded 20.42 ± 0.30 mm, scale: file of known length; \
             film of 2026-03-04.\n\
             One film is one projection: confirm the length electronically and clinically."
        );
        findings.canals[0].working_length_chart_mm = None;
        assert_eq!(chart_note(&case, &findings, 0, None, 0.5), None);
    }
}
