//! Findings from the evaluated model.

use super::findings::{
    CanalFindings, CurvatureFindings, CurveFinding, DifficultyFinding, ScaleFinding,
};
use super::intervals::Intervals;
use super::model::{CanalModel, LENGTH_OUTPUTS, LengthOutput, Model, ScaleBasis};
use super::settings::Settings;
use crate::calibration::{DetectorUnit, FilmScale};
use crate::case::{Canal, ScaleObjectKind};
use crate::curvature::{Curvature, CurvatureQuantity as Q, DifficultyClass};
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

    fn length(&self, output: LengthOutput) -> Option<Quantity> {
        self.quantity(output as usize, 1.0)
    }

    /// An angle; needs no scale.
    fn deg(&self, quantity: Q) -> Option<Quantity> {
        self.quantity(LENGTH_OUTPUTS + quantity.index()?, 1f64.to_degrees())
    }

    /// A length of a curvature method, in mm or not at all.
    fn mm(&self, quantity: Q) -> Option<Quantity> {
        let index = LENGTH_OUTPUTS + quantity.index()?;
        self.has_scale.then(|| self.quantity(index, 1.0)).flatten()
    }
}

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

/// The classes other than the one given that Schneider's interval reaches; an
/// S shape decides without it.
fn other_classes(schneider_deg: Option<Quantity>, curvature: &Curvature) -> Vec<String> {
    let Some(angle) = schneider_deg.filter(|_| !curvature.s_shaped) else {
        return Vec::new();
    };
    DifficultyClass::reached(angle.value.to_radians(), angle.u95.to_radians())
        .filter(|&class| Some(class) != curvature.difficulty.class)
        .map(|class| class.label().to_owned())
        .collect()
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
    (kind_code(kind).to_owned(), description)
}

/// An object named for messages: "file in canal MB".
pub fn object_in_words(model: &Model, index: usize) -> String {
    let object = &model.objects[index];
    match &object.canal {
        Some(canal) => format!("{} in canal {canal}", kind_code(object.kind)),
        None => format!("{} (scale object {})", kind_code(object.kind), index + 1),
    }
}

fn kind_code(kind: ScaleObjectKind) -> &'static str {
    match kind {
        ScaleObjectKind::File => "file",
        ScaleObjectKind::Ruler => "ruler",
        ScaleObjectKind::Ball => "ball",
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
    settings: &Settings,
) -> CanalFindings {
    let reader = Reader {
        intervals,
        offset: Model::canal_offset(index),
        has_scale: intervals.values[0].is_finite(),
    };
    let CanalModel { allowance_mm, .. } = model.canals[index];
    let additive = reader.length(LengthOutput::Additive);
    let proportion = reader.length(LengthOutput::Proportion);
    let tip_to_apex = reader.length(LengthOutput::TipToApex);
    let chart = additive.or(proportion).filter(|length| length.value > 0.0);
    let advice = tip_to_apex.map_or_else(Vec::new, |d| {
        advise(d.value, d.u95, allowance_mm, &settings.tip_limits)
    });
    CanalFindings {
        name: canal.name.clone(),
        curved_length_mm: reader.length(LengthOutput::CurvedLength),
        curved_length_px: curved_length_px(canal),
        chord_mm: reader.length(LengthOutput::Chord),
        reference_to_apex_mm: reader.length(LengthOutput::ReferenceToApex),
        tip_to_apex_mm: tip_to_apex,
        tip_to_apex_straight_mm: reader.length(LengthOutput::TipToApexStraight),
        working_length_additive_mm: additive,
        working_length_proportion_mm: proportion,
        working_length_chart_mm: chart
            .map(|length| working_length::chart_mm(length.value, settings.chart_step_mm)),
        allowance_mm,
        advice: advice
            .into_iter()
            .map(|advice| advice.text(&settings.tip_limits))
            .collect(),
        curvature: curvature.map(|curvature| curvature_findings(&reader, curvature)),
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

fn curvature_findings(reader: &Reader, curvature: &Curvature) -> CurvatureFindings {
    // Numbers count curves from the apex; findings from the orifice.
    let curves = (0..curvature.curves.len()).rev().map(|curve| CurveFinding {
        turn_deg: reader.deg(Q::CurveTurnRad(curve)),
        radius_mm: reader.mm(Q::CurveRadius(curve)),
        start_from_apex_mm: reader.mm(Q::CurveStartFromApex(curve)).map(|q| q.value),
        end_from_apex_mm: reader.mm(Q::CurveEndFromApex(curve)).map(|q| q.value),
    });
    let difficulty = &curvature.difficulty;
    CurvatureFindings {
        as_projected: true,
        schneider_deg: reader.deg(Q::SchneiderRad),
        weine_deg: reader.deg(Q::WeineRad),
        axis_axis_deg: reader.deg(Q::AxisAxisRad),
        pruett_deg: reader.deg(Q::PruettRad),
        pruett_radius_mm: reader.mm(Q::PruettRadius),
        luiten_deg: reader.deg(Q::LuitenRad),
        schafer_radius_mm: reader.mm(Q::SchaferRadius),
        schafer_curve_length_mm: reader.mm(Q::SchaferCurveLength),
        canal_access_deg: reader.deg(Q::CanalAccessRad),
        curvature_height_mm: reader.mm(Q::CurvatureHeight),
        curvature_distance_mm: reader.mm(Q::CurvatureDistance),
        curvature_distance_from_apex_mm: reader.mm(Q::CurvatureDistanceFromApex),
        estrela_radius_mm: reader.mm(Q::EstrelaRadius),
        curves: curves.collect(),
        net_turn_deg: reader.deg(Q::NetTurnRad),
        total_turn_deg: reader.deg(Q::TotalTurnRad),
        smallest_radius_mm: reader.mm(Q::SmallestRadius),
        smallest_radius_from_apex_mm: reader.mm(Q::SmallestRadiusFromApex).map(|q| q.value),
        s_shaped: curvature.s_shaped,
        difficulty: DifficultyFinding {
            class: difficulty.class.map(|class| class.label().to_owned()),
            method: difficulty.method.to_owned(),
            reaches: other_classes(reader.deg(Q::SchneiderRad), curvature),
        },
    }
}
