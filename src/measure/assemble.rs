//! Findings from the evaluated model.

use super::catalogue::LengthQuantity as L;
use super::class::ClassShares;
use super::findings::{
    CanalFindings, CurvatureFindings, CurveFinding, DifficultyFinding, ScaleFinding,
};
use super::intervals::Intervals;
use super::model::{CanalModel, Model, ScaleBasis};
use super::settings::MeasureSettings;
use crate::calibration::{DetectorUnit, FilmScale};
use crate::case::Canal;
use crate::case::edit::canal_in_words;
use crate::curvature::{
    Curvature, CurvatureNumber, CurveQuantity as C, DifficultyClass, Dimension, QUANTITIES,
};
use crate::film::ScalePlane;
use crate::units::Quantity;
use crate::working_length::{self, advise};

/// Reads quantities of one canal out of the evaluated model.
struct Reader<'a> {
    intervals: &'a Intervals,
    offset: usize,
    has_scale: bool,
}

impl Reader<'_> {
    fn quantity(&self, output: usize, factor: f64) -> Option<Quantity> {
        let output = self.offset + output;
        let value = self.intervals.values[output] * factor;
        let u95 = self.intervals.u95[output] * factor;
        (value.is_finite() && u95.is_finite()).then_some(Quantity { value, u95 })
    }

    fn length(&self, length: L) -> Option<Quantity> {
        self.quantity(length as usize, 1.0)
    }

    /// A number of curvature, in the unit in which it is shown; a length in mm
    /// or not at all.
    fn curvature(&self, number: CurvatureNumber, dimension: Dimension) -> Option<Quantity> {
        let output = L::COUNT + number.index()?;
        if dimension != Dimension::Angle && !self.has_scale {
            return None;
        }
        self.quantity(output, dimension.shown_per_computed())
    }

    /// 2.5 % and 97.5 % quantiles of a length, mm.
    fn span(&self, number: CurvatureNumber) -> Option<[f64; 2]> {
        let output = self.offset + L::COUNT + number.index()?;
        let span = self.intervals.spans[output];
        (self.has_scale && span.iter().all(|end| end.is_finite())).then_some(span)
    }
}

/// Classes this likely or more are reached: the 95 % interval leaves as much
/// out at either side.
const LEAST_REACHED: f64 = 0.025;

/// The scale in force.
pub fn scale_finding(
    model: &Model,
    intervals: &Intervals,
    film_scale: Option<&FilmScale>,
) -> ScaleFinding {
    let ratio = Some(intervals.values[0]).filter(|r| r.is_finite());
    let pitch = model.frame.mean_pitch();
    let (source, description) = match &model.basis {
        ScaleBasis::Objects(weighted) => objects_in_words(model, weighted),
        ScaleBasis::Film { .. } => film_scale.map_or_else(no_scale, |scale| {
            (scale.source.clone(), scale.description.clone())
        }),
        ScaleBasis::None => no_scale(),
    };
    ScaleFinding {
        source,
        description,
        mm_per_px: ratio.map(|r| r * pitch),
        u_mm_per_px: ratio.map(|_| intervals.standard_uncertainties[0] * pitch),
        magnification: magnification(model, ratio, film_scale),
    }
}

fn no_scale() -> (String, String) {
    (
        "none".to_owned(),
        "none: lengths in px only, until an object of known length is traced".to_owned(),
    )
}

fn objects_in_words(model: &Model, weighted: &[(usize, f64)]) -> (String, String) {
    let mut names: Vec<_> = weighted
        .iter()
        .map(|&(i, _)| object_in_words(model, i))
        .collect();
    let description = match names.len() {
        1 => names.remove(0),
        _ => format!("weighted mean of {}", names.join(", ")),
    };
    let kind = model.objects[weighted[0].0].kind;
    (kind.row().code.to_owned(), description)
}

/// An object named for messages: "file in canal MB".
pub fn object_in_words(model: &Model, index: usize) -> String {
    let object = &model.objects[index];
    match &object.canal {
        Some(canal) => format!("{} in {}", object.kind.row().code, canal_in_words(canal)),
        None => format!("{} (scale object {})", object.kind.row().code, index + 1),
    }
}

/// M where it can be known: an object measured at a detector of known pitch,
/// or what the file or the user states.
fn magnification(
    model: &Model,
    tooth_per_detector: Option<f64>,
    film_scale: Option<&FilmScale>,
) -> Option<f64> {
    let scale = film_scale?;
    match model.basis {
        ScaleBasis::Objects(_)
            if model.frame.unit() == DetectorUnit::Mm && scale.plane == ScalePlane::Detector =>
        {
            tooth_per_detector.map(f64::recip)
        }
        ScaleBasis::Objects(_) => None,
        _ => scale.magnification,
    }
}

/// The findings of canal `index`.
pub fn canal_findings(
    model: &Model,
    intervals: &Intervals,
    index: usize,
    canal: &Canal,
    curvature: Option<&Curvature>,
    shares: Option<ClassShares>,
    settings: &MeasureSettings,
) -> CanalFindings {
    let reader = Reader {
        intervals,
        offset: Model::canal_offset(index),
        has_scale: intervals.values[0].is_finite(),
    };
    let CanalModel { allowance_mm, .. } = model.canals[index];
    let additive = reader.length(L::Additive);
    let proportion = reader.length(L::Proportion);
    let tip_to_apex = reader.length(L::TipToApex);
    let chart = additive.or(proportion).filter(|length| length.value > 0.0);
    let advice = tip_to_apex.map_or_else(Vec::new, |d| {
        advise(d.value, d.u95, allowance_mm, &settings.tip_limits)
    });
    CanalFindings {
        name: canal.name.clone(),
        curved_length_mm: reader.length(L::CurvedLength),
        curved_length_px: curved_length_px(canal),
        chord_mm: reader.length(L::Chord),
        reference_to_apex_mm: reader.length(L::ReferenceToApex),
        tip_to_apex_mm: tip_to_apex,
        tip_to_apex_straight_mm: reader.length(L::TipToApexStraight),
        working_length_additive_mm: additive,
        working_length_proportion_mm: proportion,
        working_length_chart_mm: chart
            .map(|length| working_length::chart_mm(length.value, settings.chart_step_mm))
            .filter(|length_mm| *length_mm > 0.0),
        allowance_mm,
        advice: advice
            .into_iter()
            .map(|advice| advice.text(&settings.tip_limits))
            .collect(),
        curvature: curvature.map(|curvature| CurvatureFindings {
            angles_from: model.canals[index].angles_from().to_owned(),
            ..curvature_findings(&reader, curvature, shares)
        }),
        budget: Vec::new(),
    }
}

/// Length of the drawn curve on the raster, px.
fn curved_length_px(canal: &Canal) -> Option<f64> {
    let points: Vec<_> = canal
        .trace_px
        .iter()
        .map(|p| kurbo::Point::new(p.x, p.y))
        .collect();
    let curve = crate::geometry::DrawnCurve::through(&points).ok()?;
    Some(curve.length())
}

fn curvature_findings(
    reader: &Reader,
    curvature: &Curvature,
    shares: Option<ClassShares>,
) -> CurvatureFindings {
    let mut found = CurvatureFindings {
        as_projected: true,
        ..CurvatureFindings::default()
    };
    for row in &QUANTITIES {
        let number = CurvatureNumber::Whole(row.quantity);
        found[row.quantity] = reader.curvature(number, row.dimension);
    }
    // Numbers count curves from the apex; findings from the orifice.
    let of_curve = |curve: usize| {
        let read = |quantity, dimension| {
            reader.curvature(CurvatureNumber::Curve(curve, quantity), dimension)
        };
        let place = |quantity| Some(read(quantity, Dimension::Length)?.value);
        let span = reader.span(CurvatureNumber::Curve(curve, C::Radius));
        CurveFinding {
            turn_deg: read(C::Turn, Dimension::Angle),
            radius_mm: read(C::Radius, Dimension::Radius),
            radius_low_mm: span.map(|[low, _]| low),
            radius_high_mm: span.map(|[_, high]| high),
            schneider_deg: read(C::Schneider, Dimension::Angle),
            start_from_apex_mm: place(C::StartFromApex),
            end_from_apex_mm: place(C::EndFromApex),
        }
    };
    found.curves = (0..curvature.curves.len()).rev().map(of_curve).collect();
    found.s_shaped = curvature.s_shaped;
    for row in QUANTITIES
        .iter()
        .filter(|row| row.dimension == Dimension::Radius)
    {
        found.spans[row.quantity as usize] = reader.span(CurvatureNumber::Whole(row.quantity));
    }
    let difficulty = &curvature.difficulty;
    let probabilities = shares.map(|shares| shares.classes);
    let reached = |class: &DifficultyClass| {
        Some(*class) != difficulty.class
            && probabilities.is_some_and(|shares| shares.of(*class) >= LEAST_REACHED)
    };
    found.s_shaped_probability = shares.map(|shares| shares.s_shaped);
    found.difficulty = DifficultyFinding {
        class: difficulty.class.map(|class| class.label().to_owned()),
        method: difficulty.method.to_owned(),
        curve: difficulty.curve.map(|index| index + 1),
        angle_deg: reader.curvature(CurvatureNumber::ClassAngle, Dimension::Angle),
        probabilities,
        reaches: DifficultyClass::ALL
            .into_iter()
            .filter(reached)
            .map(|class| class.label().to_owned())
            .collect(),
    };
    found
}
