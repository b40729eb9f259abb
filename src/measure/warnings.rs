//! Conditions the user must hear of, each with what to do.

use super::assemble::object_in_words;
use super::catalogue::CanalQuantity;
use super::findings::{CanalFindings, Quantity, ScaleFinding, Warning};
use super::intervals::Intervals;
use super::model::{Model, ObjectModel, ScaleBasis};
use super::settings::MeasureSettings;
use crate::calibration::{
    DetectorUnit, FilmScale, MeasuredObject, combine, disagreement, magnification_from_distances,
};
use crate::case::{Canal, Case, ScaleObjectKind};
use crate::curvature::{Curvature, CurvatureLandmark, Method, Missing, QUANTITIES};
use crate::film::ScalePlane;
use crate::geometry::FitError;
use crate::tooth::ToothNumber;
use crate::uncertainty::rounding::with_u95;
use crate::working_length::advise;

/// A warning of a canal, or of the whole case.
pub fn warning(code: &str, canal: Option<&str>, text: String) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: canal.map(str::to_owned),
    }
}

/// Warnings about the scale.
pub fn scale_warnings(
    model: &Model,
    scale: &ScaleFinding,
    film_scales: &[FilmScale],
    settings: &MeasureSettings,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let mut warn = |code, text| warnings.push(warning(code, None, text));
    match &model.basis {
        ScaleBasis::None => warn(
            "no_scale",
            "No scale: no length in mm. Trace a file of known length, or mark a \
             ruler or ball."
                .to_owned(),
        ),
        ScaleBasis::Film { .. } => film_scale_warning(film_scales.first(), &mut warn),
        ScaleBasis::Objects(_) => {}
    }

    let measured: Vec<MeasuredObject> = model.objects.iter().map(|o| o.measured).collect();
    let by_edges = |o: &ObjectModel| o.kind == ScaleObjectKind::Plate;
    if !model.objects.is_empty() && model.objects.iter().all(by_edges) {
        warn(
            "scale_by_film_edges",
            "The scale rests on the film's own edges, which lie behind the tooth by a distance \
             that is assumed: their intervals are wide. Check that the edges are the film's own, \
             not those of a cut picture, and trace an object of known length where there is one."
                .to_owned(),
        );
    }
    if let Some(worst) = disagreement(&measured) {
        warn(
            "scale_disagreement",
            format!(
                "The scale objects disagree beyond their uncertainties; the worst is the {}, \
                 {:+.1} % from the others. Check its points and its known length.",
                object_in_words(model, worst.index),
                100.0 * worst.relative
            ),
        );
    }
    if let [used, other, ..] = film_scales
        && relative_difference(used.pitch_mm[0], other.pitch_mm[0]) > SAME_PITCH
    {
        warn(
            "pitch_disagreement",
            format!(
                "The film's own pixel spacing ({} mm, used) and the typed pitch ({} mm) differ. \
                 Delete the typed pitch or check it.",
                used.pitch_mm[0], other.pitch_mm[0]
            ),
        );
    }

    if let Some(mm_per_px) = scale.mm_per_px {
        let (least, greatest) = settings.plausible_mm_per_px;
        if !(least..=greatest).contains(&mm_per_px) {
            warn(
                "scale_implausible",
                format!(
                    "The scale, {mm_per_px:.4} mm per px, is not that of a film ({least} to \
                     {greatest}). Check the known length and the points, or the pixel pitch."
                ),
            );
        }
    }

    if let Some(m) = scale.magnification {
        let (least, greatest) = settings.plausible_magnification;
        // As it is shown: the last digits of a measured one are noise.
        let shown = (1000.0 * m).round() / 1000.0;
        if !(least..=greatest).contains(&shown) {
            let why = if m < least {
                "the object is foreshortened, or its length or the pitch is wrong"
            } else {
                "the object's length or the pitch is probably wrong"
            };
            warn(
                "magnification_implausible",
                format!(
                    "Magnification {m:.3} lies outside {least:.2}-{greatest:.2}: {why}. Check the \
                     known length and the points."
                ),
            );
        }
    }
    warnings
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

/// Two pitches this close, relatively, are one.
const SAME_PITCH: f64 = 0.001;

fn relative_difference(a: f64, b: f64) -> f64 {
    (a / b - 1.0).abs()
}

fn film_scale_warning(scale: Option<&FilmScale>, warn: &mut impl FnMut(&'static str, String)) {
    match scale.map(|s| (s.plane, s.magnification)) {
        Some((ScalePlane::Detector, None)) => warn(
            "magnification_unknown",
            "Lengths are at the detector; the magnification is not known, so true lengths are \
             shorter, usually by 0-15 %. Trace an object of known length."
                .to_owned(),
        ),
        Some((ScalePlane::NotStated, _)) => warn(
            "scale_origin_not_stated",
            "The film states a pixel spacing but not where it holds, at the detector or in the \
             tooth. Trace an object of known length."
                .to_owned(),
        ),
        _ => {}
    }
}

/// True mm per detector unit by the film alone, where it can say so of the
/// tooth's plane, with its relative uncertainty.
fn tooth_by_film(
    model: &Model,
    film_scale: Option<&FilmScale>,
    case: &Case,
    settings: &MeasureSettings,
) -> Option<MeasuredObject> {
    let scale = film_scale?;
    if model.frame.unit() != DetectorUnit::Mm {
        return None;
    }
    let ratio = match scale.plane {
        ScalePlane::Tooth => 1.0,
        ScalePlane::Detector => scale.magnification?.recip(),
        ScalePlane::NotStated => return None,
    };
    let relative = settings.uncertainty.stated_in(case).film_scale_relative;
    let certain = MeasuredObject {
        ratio,
        u_ratio: 0.0,
    };
    Some(certain.with_relative_u(relative))
}

/// Coverage factor of a 95 % interval of a normal distribution.
const K_95: f64 = 1.96;

/// Rulers and balls that the film's own scale contradicts.
fn film_disagreement(
    model: &Model,
    film_scale: &FilmScale,
    by_film: MeasuredObject,
) -> Option<String> {
    let flat = model
        .objects
        .iter()
        .filter(|o| o.kind != ScaleObjectKind::File);
    let objects = combine(&flat.map(|o| o.measured).collect::<Vec<_>>())?;
    let apart = objects.ratio - by_film.ratio;
    (apart.abs() > K_95 * objects.u_ratio.hypot(by_film.u_ratio)).then(|| {
        format!(
            "The marked object and the film's own scale ({}) differ by {:+.1} %; the object is \
             used. Check its points and its known length.",
            film_scale.description,
            100.0 * apart / by_film.ratio
        )
    })
}

/// What is entered about the exposure, and files whose length the pitch
/// contradicts. Contradictions are those significant at 5 %.
pub fn exposure_warnings(
    model: &Model,
    case: &Case,
    film_scale: Option<&FilmScale>,
    canals: &[CanalFindings],
    settings: &MeasureSettings,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let film = &case.film;
    let uncertainty = settings.uncertainty.stated_in(case);
    let from_distances = film
        .source_to_detector_mm
        .zip(film.source_to_tooth_mm)
        .and_then(|(sid, sod)| magnification_from_distances(sid, sod));
    if let (Some(typed), Some(by_distances)) = (film.magnification, from_distances)
        && (typed / by_distances - 1.0).abs()
            > K_95 * std::f64::consts::SQRT_2 * uncertainty.film_scale_relative
    {
        let text = format!(
            "The typed magnification, {typed:.3}, and that of the typed distances, \
             {by_distances:.3}, differ. Delete one of them or check it."
        );
        warnings.push(warning("magnification_disagreement", None, text));
    }
    let Some(by_film) = tooth_by_film(model, film_scale, case, settings) else {
        return warnings;
    };
    if let Some(text) = film_scale.and_then(|scale| film_disagreement(model, scale, by_film)) {
        warnings.push(warning("scale_disagreement", None, text));
    }
    let relative = by_film.u_ratio / by_film.ratio;
    let mut compare = |canal: Option<&str>, set_mm: f64, by_pitch_mm: f64, u_mm: f64| {
        let apart = Quantity {
            value: (set_mm - by_pitch_mm).abs(),
            u95: K_95 * u_mm,
        };
        if apart.value > apart.u95 {
            let text = format!(
                "The set length and the pixel pitch disagree by {}: {set_mm} mm is entered, the \
                 file measures {by_pitch_mm:.1} mm. Check the length at the stop, the points of \
                 the file and the pitch.",
                with_u95(apart, "mm")
            );
            warnings.push(warning("set_length_pitch_disagreement", canal, text));
        }
    };
    for (object, entered) in model.objects.iter().zip(&case.scale.objects) {
        let (ScaleObjectKind::File, Some(set_mm)) = (object.kind, entered.true_length_mm) else {
            continue;
        };
        let MeasuredObject { ratio, u_ratio } = object.in_own_plane;
        let u_mm = set_mm * (u_ratio / ratio).hypot(relative);
        let by_pitch_mm = set_mm * by_film.ratio / ratio;
        compare(object.canal.as_deref(), set_mm, by_pitch_mm, u_mm);
    }
    // Without a traced file the two working lengths differ by what the set
    // length differs from the way from the reference point to the tip.
    for (found, canal) in canals.iter().zip(&case.canals) {
        let set_mm = canal.file.as_ref().and_then(|file| file.set_length_mm);
        if case.own_file(canal).is_none()
            && matches!(model.basis, ScaleBasis::Film { .. })
            && let Some(set_mm) = set_mm
            && let (Some(additive), Some(proportion)) = (
                found.working_length_additive_mm,
                found.working_length_proportion_mm,
            )
        {
            let by_pitch_mm = set_mm - (additive.value - proportion.value);
            let reading_mm = uncertainty.reading_half_width_mm / 3f64.sqrt();
            let click_mm = by_film.ratio * model.ends_click();
            let u_mm = (by_pitch_mm * relative.hypot(uncertainty.u_of_tilt()))
                .hypot(reading_mm)
                .hypot(click_mm);
            compare(Some(&canal.name), set_mm, by_pitch_mm, u_mm);
        }
    }
    warnings
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
