//! What is to be said about the scale.

use super::assemble::object_in_words;
use super::findings::{CanalFindings, Quantity, ScaleFinding, Warning};
use super::model::{Model, ObjectModel, ScaleBasis};
use super::settings::MeasureSettings;
use super::warnings::warning;
use crate::calibration::{
    DetectorUnit, EarlierScale, FilmScale, MeasuredObject, combine, disagreement,
    magnification_from_distances,
};
use crate::case::{Case, ScaleObjectKind};
use crate::film::ScalePlane;
use crate::statistics::Z95;
use crate::uncertainty::rounding::with_u95;

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
        && other.source != EarlierScale::CODE
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

    if let [used, .., earlier] = film_scales
        && let (EarlierScale::CODE, Some(u)) = (earlier.source.as_str(), earlier.u_relative)
        && let Some(by_film) = used.tooth_mm_per_px()
    {
        let apart = earlier.pitch_mm[0] / by_film - 1.0;
        if apart.abs() > Z95 * u.hypot(settings.uncertainty.film_scale_relative) {
            warn(
                "scale_disagreement",
                format!(
                    "The scale of the earlier film and this film's own ({}) differ by {:+.1} %. \
                     Check that both were taken alike, or take the earlier film's scale out.",
                    used.description,
                    100.0 * apart
                ),
            );
        }
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
    if scale.is_some_and(|s| s.u_relative.is_some()) {
        warn(
            "scale_from_earlier_film",
            "The scale is that of an earlier film: it holds only where patient, receptor, \
             resolution and holder are the same. Trace an object of known length where there \
             is one."
                .to_owned(),
        );
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
    let stated = settings.uncertainty.stated_in(case).film_scale_relative;
    let relative = scale.u_relative.unwrap_or(stated);
    let certain = MeasuredObject {
        ratio,
        u_ratio: 0.0,
    };
    Some(certain.with_relative_u(relative))
}

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
    (apart.abs() > Z95 * objects.u_ratio.hypot(by_film.u_ratio)).then(|| {
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
            > Z95 * std::f64::consts::SQRT_2 * uncertainty.film_scale_relative
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
            u95: Z95 * u_mm,
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
