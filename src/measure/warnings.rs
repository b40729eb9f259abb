//! Conditions the user must hear of, each with what to do.

use super::catalogue::CanalQuantity;
use super::findings::{CanalFindings, Warning};
use super::intervals::Intervals;
use super::model::{Model, ScaleBasis};
use super::settings::MeasureSettings;
use crate::case::{Canal, Case, ScaleObjectKind};
use crate::curvature::{Curvature, CurvatureLandmark, Method, Missing, QUANTITIES};
use crate::geometry::FitError;
use crate::tooth::ToothNumber;
use crate::working_length::advise;

/// A warning of a canal, or of the whole case.
pub fn warning(code: &str, canal: Option<&str>, text: String) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: canal.map(str::to_owned),
    }
}

/// Files traced in a canal that the case does not have.
pub fn stray_file_warnings(case: &Case) -> Vec<Warning> {
    let files = case.scale.objects.iter().enumerate();
    let stray = files.filter_map(|(index, object)| {
        let name = object.canal.as_ref()?;
        let is_stray = object.kind == ScaleObjectKind::File
            && case.canals.iter().all(|canal| &canal.name != name);
        is_stray.then(|| {
            let text = format!(
                "The file of scale object {} is said to stand in canal \"{name}\", which the case \
                 does not have: it gives the scale and no working length. Correct the name.",
                index + 1
            );
            warning("file_in_unknown_canal", None, text)
        })
    });
    stray.collect()
}

/// Warnings about one canal.
pub fn canal_warnings(
    model: &Model,
    index: usize,
    case: &Case,
    found: &CanalFindings,
    curvature: &Result<Curvature, FitError>,
    settings: &MeasureSettings,
) -> Vec<Warning> {
    let canal = &case.canals[index];
    let mut warnings = Vec::new();
    let mut warn = |code, text| warnings.push(warning(code, Some(&canal.name), text));

    if let Some(d) = found.tip_to_apex_mm {
        for advice in advise(d.value, d.u95, found.allowance_mm, &settings.tip_limits) {
            if advice.is_warning() {
                warn(advice.code(), advice.text(&settings.tip_limits));
            }
        }
    }
    if let Some(off) = model.tip_off_path_mm(index)
        && off > settings.tip_off_path_limit_mm
    {
        warn(
            "tip_off_path",
            format!(
                "The file tip lies {off:.1} mm beside the canal's path. Check the tip and the \
                 trace, or whether the file stands in another canal."
            ),
        );
    }
    if let Some(off) = model.apex_off_path_mm(index)
        && off > settings.apex_off_path_limit_mm
    {
        warn(
            "apex_off_path",
            format!(
                "The apex lies {off:.1} mm beside the canal's path. Check the apex and the end of \
                 the trace."
            ),
        );
    }
    let own_file = case.own_file(canal).and_then(|file| file.true_length_mm);
    let set = canal.file.as_ref().and_then(|file| file.set_length_mm);
    if let (Some(known), Some(set)) = (own_file, set)
        && (known - set).abs() > settings.length_difference_limit_mm
    {
        warn(
            "set_length_differs",
            format!(
                "The file's set length, {set} mm, and the known length it is traced as, {known} \
                 mm, differ. One of them is wrong."
            ),
        );
    }
    if let (Some(additive), Some(proportion)) = (
        found.working_length_additive_mm,
        found.working_length_proportion_mm,
    ) {
        let apart = (additive.value - proportion.value).abs();
        if apart > settings.length_difference_limit_mm {
            warn(
                "working_lengths_differ",
                format!(
                    "The additive and the proportion working length differ by {apart:.1} mm. \
                     Check the reference point, the set length and the traces."
                ),
            );
        }
    }
    if let Some(spacing) = model.spacing_in_noise(index)
        && spacing < settings.least_spacing_in_noise
    {
        warn(
            "points_too_close",
            format!(
                "The points of the trace stand {spacing:.1} standard deviations of a click apart: \
                 their scatter makes the canal look longer than it is. Place fewer, at least {} \
                 apart.",
                settings.least_spacing_in_noise
            ),
        );
    }
    if let Some(text) = implausible_length(case, found) {
        warn("tooth_length_implausible", text);
    }
    for name in canal.landmarks.keys() {
        if CurvatureLandmark::from_name(name).is_none() {
            warn(
                "unknown_landmark",
                format!("The landmark \"{name}\" is not known to this version and has no effect."),
            );
        }
    }
    let missing = missing_lengths(model, case, canal, found);
    warnings.extend(
        missing
            .into_iter()
            .map(|(code, text)| warning(code, Some(&canal.name), text)),
    );
    match curvature {
        Ok(curvature) => warnings.extend(curvature_warnings(&canal.name, curvature)),
        Err(error) => {
            let text = if canal.trace_px.is_empty() {
                "No curvature: trace the canal from its orifice, with four points or more."
                    .to_owned()
            } else {
                format!("No curvature: {error}.")
            };
            warnings.push(warning("no_curvature", Some(&canal.name), text));
        }
    }
    warnings
}

/// Results that the inputs' uncertainty often takes away.
pub fn missing_share_warning(
    intervals: &Intervals,
    index: usize,
    found: &CanalFindings,
    settings: &MeasureSettings,
) -> Vec<Warning> {
    let results = CanalQuantity::with_budget(found).into_iter();
    let missing = results.filter_map(|quantity| {
        let output = Model::canal_offset(index) + quantity.output()?;
        let (key, share) = (quantity.key(), intervals.missing_shares[output]);
        (share > settings.missing_share_limit).then(|| {
            warning(
                "often_undefined",
                Some(&found.name),
                format!(
                    "{key} does not exist in {:.0} % of what the uncertainty of the points \
                     allows; its interval speaks of the rest. Add points or check the trace.",
                    100.0 * share
                ),
            )
        })
    });
    missing.collect()
}

/// Tooth length outside the published range of its type (docs/methods.md 4).
fn implausible_length(case: &Case, found: &CanalFindings) -> Option<String> {
    let tooth = case.tooth.as_ref()?;
    let tooth = ToothNumber::parse(tooth.notation, &tooth.number).ok()?;
    let (least, greatest) = tooth.published_total_length()?.range_mm;
    let length = found.reference_to_apex_mm?.value;
    (!(least..=greatest).contains(&length)).then(|| {
        format!(
            "Reference to apex, {length:.1} mm, lies outside the published range of tooth {} \
             ({least}-{greatest} mm). Check the scale.",
            tooth.fdi()
        )
    })
}

/// Why lengths are missing although there is a scale.
fn missing_lengths(
    model: &Model,
    case: &Case,
    canal: &Canal,
    found: &CanalFindings,
) -> Vec<(&'static str, String)> {
    let mut missing = Vec::new();
    if matches!(model.basis, ScaleBasis::None) {
        return missing;
    }
    if found.curved_length_mm.is_none() {
        missing.push((
            "no_trace",
            "No curved length: trace the canal with two points or more.".to_owned(),
        ));
    }
    if found.tip_to_apex_mm.is_none() {
        let has_tip = canal.file.as_ref().is_some_and(|f| f.tip_px.is_some())
            || case.own_file(canal).is_some();
        let mark = match (has_tip, canal.apex_px.is_some()) {
            (true, true) => {
                "on which side of the apex the tip lies is unknown; mark the reference point or \
                 trace the canal"
            }
            (false, true) => "mark the file tip, if a file stands in the canal",
            (true, false) => "mark the apex",
            (false, false) => "mark the file tip and the apex",
        };
        missing.push(("no_tip_to_apex", format!("No tip to apex: {mark}.")));
    }
    if found.reference_to_apex_mm.is_none() {
        missing.push((
            "no_reference_to_apex",
            "No reference to apex and no proportion working length: mark the reference point and \
             trace the canal or its file."
                .to_owned(),
        ));
    }
    let has_set_length = canal
        .file
        .as_ref()
        .is_some_and(|f| f.set_length_mm.is_some());
    if found.working_length_additive_mm.is_none() && found.tip_to_apex_mm.is_some() {
        debug_assert!(!has_set_length);
        missing.push((
            "no_set_length",
            "No additive working length: enter the file's set length.".to_owned(),
        ));
    }
    let working_length = found
        .working_length_additive_mm
        .or(found.working_length_proportion_mm);
    if found.working_length_chart_mm.is_none() && working_length.is_some() {
        missing.push((
            "no_chart_value",
            "No working length for the chart: it would be 0 or less. Check the reference point, \
             the set length and the traces."
                .to_owned(),
        ));
    }
    missing
}

fn curvature_warnings(canal: &str, curvature: &Curvature) -> Vec<Warning> {
    let mut warnings: Vec<_> = curvature
        .notes
        .iter()
        .map(|note| warning("curvature_note", Some(canal), note.text()))
        .collect();
    // Once for each method: its other numbers are missing for the same reason.
    let mut said: Vec<(Option<Method>, Missing)> = Vec::new();
    for row in &QUANTITIES {
        let Err(reason) = (row.of)(curvature) else {
            continue;
        };
        if !said.contains(&(row.method, reason)) {
            said.push((row.method, reason));
            let text = format!("No {}: {reason}.", row.name);
            warnings.push(warning("method_not_applicable", Some(canal), text));
        }
    }
    warnings
}
