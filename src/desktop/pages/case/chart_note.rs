//! The short text for the patient's record.

use crate::case::edit::canal_in_words;
use crate::case::{Canal, Case, ToothNotation};
use crate::desktop::ui::wording::{
    capitalised, chart_length, rounded_from, tip_in_words, uncertainty_alone,
};
use crate::measure::findings::{CanalFindings, Findings};
use crate::uncertainty::rounding::with_u95;

/// The caution every note carries (docs/methods.md 9).
const CAUTION: &str =
    "One film is one projection: confirm the length electronically and clinically.";

/// The note for every canal that has a working length; `None` when there is
/// none to note.
pub fn chart_note(
    case: &Case,
    findings: &Findings,
    film_date: Option<&str>,
    chart_step_mm: f64,
) -> Option<String> {
    let canals = case.canals.iter().zip(&findings.canals);
    let noted: Vec<Noted> = canals
        .filter_map(|(canal, found)| Noted::new(canal, found, chart_step_mm))
        .collect();
    let tooth = case.tooth.as_ref().map(|tooth| match tooth.notation {
        ToothNotation::Fdi => format!("Tooth {}", tooth.number),
        ToothNotation::Universal => format!("Tooth {} (Universal)", tooth.number),
    });
    let date = match film_date {
        Some(date) => format!("film of {date}"),
        None => "film date not stated".to_owned(),
    };
    let observer = case.observer.as_ref();
    let observer = observer.map_or(String::new(), |name| format!("; measured by {name}"));
    let scale = format!("scale: {}", findings.scale.description);
    let lines = match &noted[..] {
        [] => return None,
        [one] => {
            let place = match tooth {
                Some(tooth) => format!("{tooth}, {}", one.canal),
                None => capitalised(&one.canal),
            };
            vec![
                format!("{place}: {}.", one.length),
                format!("From the film: {}, {scale}; {date}{observer}.", one.how),
            ]
        }
        several => {
            let head = tooth.map(|tooth| format!("{tooth}:"));
            let each = several.iter().map(|one| {
                let Noted { canal, length, how } = one;
                format!("{}: {length}; {how}.", capitalised(canal))
            });
            let last = format!("From the film: {scale}; {date}{observer}.");
            head.into_iter().chain(each).chain([last]).collect()
        }
    };
    Some(format!("{}\n{CAUTION}", lines.join("\n")))
}

/// What is noted of one canal.
struct Noted {
    canal: String,
    /// "working length 20.0 mm (20.42, rounded down to 0.5) from MB cusp".
    length: String,
    /// What it rests on.
    how: String,
}

impl Noted {
    fn new(canal: &Canal, found: &CanalFindings, chart_step_mm: f64) -> Option<Self> {
        let mut chart = chart_length(found.working_length_chart_mm?);
        let reference = canal.reference_name.as_deref();
        let reference = reference.unwrap_or("the reference point");
        let mut how = Vec::new();
        if let Some(set) = canal.file.as_ref().and_then(|file| file.set_length_mm) {
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
            .or(found.working_length_proportion_mm);
        if let Some(raw) = raw {
            chart = format!("{chart} {}", rounded_from(raw.value, chart_step_mm));
            how.push(format!("unrounded {}", with_u95(raw, "mm")));
        }
        Some(Self {
            canal: canal_in_words(&canal.name),
            length: format!("working length {chart} from {reference}"),
            how: how.join(", "),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::edit::new_case;
    use crate::case::{CanalFile, Tooth};
    use crate::measure::findings::ScaleFinding;
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
            film_check: None,
            assessment: Default::default(),
            warnings: Vec::new(),
        };
        let note = chart_note(&case, &findings, Some("2026-03-04"), 0.5).expect("a length");
        assert_eq!(
            note,
            "Tooth 36, canal MB: working length 20.0 mm (20.42, rounded down to 0.5) from MB cusp.\n\
             From the film: file set at 20.0 mm, tip 1.4 mm short of the apex (± 0.15 mm), \
             allowance 1.0 mm, unrounded 20.42 ± 0.30 mm, scale: file of known length; \
             film of 2026-03-04.\n\
             One film is one projection: confirm the length electronically and clinically."
        );

        case.observer = Some("A. Reader".into());
        let mut second = case.canals[0].clone();
        second.name = "ML".into();
        case.canals.push(second);
        findings.canals.push(findings.canals[0].clone());
        let both = chart_note(&case, &findings, None, 0.5).expect("two lengths");
        let lines: Vec<&str> = both.lines().collect();
        assert_eq!(lines[0], "Tooth 36:");
        assert!(lines[1].starts_with("Canal MB: working length 20.0 mm (20.42"));
        assert!(lines[2].starts_with("Canal ML: working length 20.0 mm (20.42"));
        assert_eq!(
            lines[3],
            "From the film: scale: file of known length; film date not stated; measured by A. Reader."
        );

        for canal in &mut findings.canals {
            canal.working_length_chart_mm = None;
        }
        assert_eq!(chart_note(&case, &findings, None, 0.5), None);
    }
}
