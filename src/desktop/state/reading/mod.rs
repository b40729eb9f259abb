//! A case measured on its film, and what is to be drawn of the results.

mod drawing;
mod two_films;

pub use drawing::{CanalDrawing, Mark, PathSample};
pub use two_films::{OneSide, courses, same_patient, two_films};

use super::open_film::OpenFilm;
use crate::calibration::{DetectorFrame, film_scales};
use crate::case::Case;
use crate::case::edit::canal_in_words;
use crate::measure::findings::{CanalFindings, Findings, ScaleFinding, Warning};
use crate::measure::{MeasureSettings, Model, ScaleBasis, measure_with_model, typed_scale};
use crate::tooth::ToothNumber;

/// A source of scale beside the others.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaleSource {
    pub name: String,
    pub mm_per_px: f64,
    pub in_use: bool,
}

/// All that the window shows of one state of a case.
#[derive(Clone, Debug)]
pub struct Reading {
    pub findings: Findings,
    /// Every source of scale, most trusted first.
    pub scales: Vec<ScaleSource>,
    pub drawings: Vec<CanalDrawing>,
}

/// Measures a case on its film, as far as it is complete: what has only been
/// begun is left out. Fast enough for every frame of a drag with
/// [`crate::measure::Precision::Live`]; `Precision::Full` belongs on a thread of its own.
pub fn read(case: &Case, film: &OpenFilm, settings: &MeasureSettings) -> Reading {
    let mut warnings = Vec::new();
    let complete = complete_part(case, &mut warnings);
    match measure_with_model(&complete, &film.summary, "", settings) {
        Ok((mut findings, model)) => {
            findings.warnings.splice(0..0, warnings);
            let drawings = (0..case.canals.len())
                .map(|canal| drawing::of_canal(&complete, canal, &model, &findings))
                .collect();
            let scales = scale_sources(&complete, film, &model);
            Reading {
                findings,
                scales,
                drawings,
            }
        }
        Err(error) => {
            warnings.push(Warning {
                code: "unusable_input".to_owned(),
                text: error.to_string(),
                canal: None,
            });
            nothing_found(case, warnings)
        }
    }
}

/// The complete part of a case with its findings and the model they are
/// worked out by.
#[derive(Clone, Debug)]
pub struct Modelled {
    pub case: Case,
    pub findings: Findings,
    pub model: Model,
}

/// Measures the complete part of a case; `name` is repeated in the findings.
///
/// # Errors
/// One line in plain words, when the case cannot be measured.
pub fn modelled(
    case: &Case,
    film: &OpenFilm,
    name: &str,
    settings: &MeasureSettings,
) -> Result<Modelled, String> {
    let mut warnings = Vec::new();
    let case = complete_part(case, &mut warnings);
    let (mut findings, model) = measure_with_model(&case, &film.summary, name, settings)
        .map_err(|error| error.to_string())?;
    findings.warnings.splice(0..0, warnings);
    Ok(Modelled {
        case,
        findings,
        model,
    })
}

/// The complete part of a case and its findings, for records.
///
/// # Errors
/// One line in plain words, when the case cannot be measured.
pub fn complete_findings(
    case: &Case,
    film: &OpenFilm,
    settings: &MeasureSettings,
) -> Result<(Case, Findings), String> {
    let found = modelled(case, film, "", settings)?;
    Ok((found.case, found.findings))
}

/// The case without objects and traces of too few points, objects of unknown
/// size, and a tooth number that is not one (yet); a trace drawn from the apex
/// turned round.
fn complete_part(case: &Case, warnings: &mut Vec<Warning>) -> Case {
    let mut complete = case.clone();
    complete.scale.objects.retain(|object| {
        object.points_px.len() >= 2
            && (object.true_length_mm.is_some() || object.true_diameter_mm.is_some())
    });
    for index in 0..complete.canals.len() {
        let is_reversed = complete.runs_from_apex(&complete.canals[index]);
        let canal = &mut complete.canals[index];
        if canal.trace_px.len() < 2 {
            canal.trace_px.clear();
        } else if is_reversed {
            canal.trace_px.reverse();
            warnings.push(Warning {
                code: "drawn_from_apex".to_owned(),
                text: "The canal was drawn from the apex to the orifice. Finish it (Enter \
                       with Trace canal chosen) to reverse it."
                    .to_owned(),
                canal: Some(canal.name.clone()),
            });
        }
    }
    let unknown = complete
        .tooth
        .as_ref()
        .and_then(|tooth| ToothNumber::parse(tooth.notation, &tooth.number).err());
    if let Some(error) = unknown {
        complete.tooth = None;
        warnings.push(Warning {
            code: "unknown_tooth".to_owned(),
            text: error.to_string(),
            canal: None,
        });
    }
    complete
}

/// Scale that assistance looks at the film with: what the film states, else
/// what was measured on it. mm per px.
pub fn detector_mm_per_px(case: &Case, film: &OpenFilm, measured: Option<f64>) -> Option<f64> {
    let stated = film_scales(&film.summary.scale, &typed_scale(case));
    let pitch = |pitch_mm: [f64; 2]| (pitch_mm[0] * pitch_mm[1]).sqrt();
    stated
        .first()
        .map(|scale| pitch(scale.pitch_mm))
        .or(measured)
}

/// The frame clicks are measured in, and its unit.
pub struct ClickFrame {
    pub frame: DetectorFrame,
    pub unit: &'static str,
}

/// At the detector where its pitch is known, else by the scale measured on
/// the film, else in px.
pub fn click_frame(case: &Case, film: &OpenFilm, measured_mm_per_px: Option<f64>) -> ClickFrame {
    let stated = film_scales(&film.summary.scale, &typed_scale(case));
    let pitch = stated.first().map(|scale| scale.pitch_mm);
    match pitch.or(measured_mm_per_px.map(|mm| [mm, mm])) {
        Some(pitch) => ClickFrame {
            frame: DetectorFrame::with_pitch(pitch),
            unit: "mm",
        },
        None => ClickFrame {
            frame: DetectorFrame::without_pitch(),
            unit: "px",
        },
    }
}

/// Objects of known size in case order, then what the film states.
fn scale_sources(case: &Case, film: &OpenFilm, model: &Model) -> Vec<ScaleSource> {
    let pitch = model.frame.mean_pitch();
    let objects = model.objects.iter().enumerate().map(|(index, object)| {
        let kind = object.kind.row().name;
        let place = object.canal.as_deref();
        let place = place.map(|canal| format!(" in {}", canal_in_words(canal)));
        ScaleSource {
            name: format!("{kind}{}", place.unwrap_or_default()),
            mm_per_px: object.measured.ratio * pitch,
            in_use: matches!(&model.basis, ScaleBasis::Objects(used) if used.iter().any(|(i, _)| *i == index)),
        }
    });
    let stated = film_scales(&film.summary.scale, &typed_scale(case))
        .into_iter()
        .enumerate();
    let stated = stated.map(|(index, scale)| ScaleSource {
        mm_per_px: (scale.pitch_mm[0] * scale.pitch_mm[1]).sqrt() / scale.divisor(),
        in_use: index == 0 && matches!(model.basis, ScaleBasis::Film { .. }),
        name: scale.description,
    });
    objects.chain(stated).collect()
}

fn nothing_found(case: &Case, warnings: Vec<Warning>) -> Reading {
    let canals = case.canals.iter().map(|canal| CanalFindings {
        name: canal.name.clone(),
        ..CanalFindings::default()
    });
    Reading {
        findings: Findings {
            case: String::new(),
            draws: None,
            scale: ScaleFinding {
                source: "none".to_owned(),
                description: "not known: see the warning".to_owned(),
                mm_per_px: None,
                u_mm_per_px: None,
                magnification: None,
            },
            canals: canals.collect(),
            assessment: Default::default(),
            film_check: None,
            warnings,
        },
        scales: Vec::new(),
        drawings: vec![CanalDrawing::default(); case.canals.len()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desktop::state::open_film::demo;

    #[test]
    fn the_demo_measures_without_an_input_error() {
        let (case, film) = demo().expect("builds");
        let reading = read(&case, &film, &MeasureSettings::default());
        let found = &reading.findings.canals[0];
        assert!(found.tip_to_apex_mm.is_some());
        assert!(found.curvature.is_some());
        assert!(!reading.drawings[0].profile.is_empty());
        let unusable = |warning: &Warning| warning.code == "unusable_input";
        assert!(!reading.findings.warnings.iter().any(unusable));
    }
}
