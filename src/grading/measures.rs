//! Everything a trace is judged by. Keys are those of the JSON, the CSV and
//! the rubric; the ending names the unit.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::measure::findings::{CanalFindings, Quantity};

macro_rules! measures {
    ($($name:ident $key:literal $words:literal,)*) => {
        /// A number a trace is judged by. Errors are trace − reference.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum Measure {
            $(#[doc = $words] #[serde(rename = $key)] $name,)*
        }

        impl Measure {
            /// Every measure, in the order of the table.
            pub const ALL: &[Measure] = &[$(Measure::$name,)*];

            /// The key in JSON, CSV and rubric.
            pub fn key(self) -> &'static str {
                match self { $(Measure::$name => $key,)* }
            }

            /// The measure in words.
            pub fn words(self) -> &'static str {
                match self { $(Measure::$name => $words,)* }
            }
        }
    };
}

measures! {
    MeanDistanceMm "mean_distance_mm" "mean distance",
    Percentile95Mm "percentile_95_mm" "95th percentile of the distance",
    HausdorffMm "hausdorff_mm" "greatest (Hausdorff) distance",
    FrechetMm "frechet_mm" "Fréchet distance",
    LengthErrorMm "length_error_mm" "error of the canal's length",
    ApexErrorMm "apex_error_mm" "distance between the apex marks",
    TipErrorMm "tip_error_mm" "distance between the file tip marks",
    TipToApexErrorMm "tip_to_apex_error_mm" "error of tip to apex",
    WorkingEndToApexMm "working_end_to_apex_mm" "end of the working length short of the reference's apex",
    WorkingLengthErrorMm "working_length_error_mm" "error of the working length",
    MeanDistancePx "mean_distance_px" "mean distance",
    Percentile95Px "percentile_95_px" "95th percentile of the distance",
    HausdorffPx "hausdorff_px" "greatest (Hausdorff) distance",
    FrechetPx "frechet_px" "Fréchet distance",
    LengthErrorPx "length_error_px" "error of the canal's length",
    ApexErrorPx "apex_error_px" "distance between the apex marks",
    TipErrorPx "tip_error_px" "distance between the file tip marks",
    SchneiderErrorDeg "schneider_error_deg" "error of the Schneider angle",
    WeineErrorDeg "weine_error_deg" "error of the Weine angle",
    AxisAxisErrorDeg "axis_axis_error_deg" "error of the angle between the axes",
    PruettErrorDeg "pruett_error_deg" "error of the Pruett angle",
    PruettRadiusErrorMm "pruett_radius_error_mm" "error of the Pruett radius",
    LuitenErrorDeg "luiten_error_deg" "error of the Luiten angle",
    SchaferRadiusErrorMm "schafer_radius_error_mm" "error of the Schäfer radius",
    SchaferCurveLengthErrorMm "schafer_curve_length_error_mm" "error of the Schäfer curve length",
    CanalAccessErrorDeg "canal_access_error_deg" "error of the canal access angle",
    CurvatureHeightErrorMm "curvature_height_error_mm" "error of the curvature height",
    CurvatureDistanceErrorMm "curvature_distance_error_mm" "error of the curvature distance",
    EstrelaRadiusErrorMm "estrela_radius_error_mm" "error of the Estrela radius",
    NetTurnErrorDeg "net_turn_error_deg" "error of the net turn",
    TotalTurnErrorDeg "total_turn_error_deg" "error of the total turn",
    SmallestRadiusErrorMm "smallest_radius_error_mm" "error of the smallest radius",
}

impl Measure {
    /// The unit's sign: `mm`, `px` or `°`.
    pub fn unit(self) -> &'static str {
        match self.key().rsplit('_').next() {
            Some("deg") => "°",
            Some("px") => "px",
            _ => "mm",
        }
    }
}

/// Numbers by measure; what could not be had is absent.
pub type Values = BTreeMap<Measure, f64>;

/// The numbers of one canal that are compared by difference, under the
/// measure their error goes by.
pub fn compared_values(found: &CanalFindings) -> Values {
    let value = |quantity: Option<Quantity>| quantity.map(|q| q.value);
    let working_length = found
        .working_length_additive_mm
        .or(found.working_length_proportion_mm);
    let mut all = vec![
        (Measure::LengthErrorMm, value(found.curved_length_mm)),
        (Measure::LengthErrorPx, found.curved_length_px),
        (Measure::TipToApexErrorMm, value(found.tip_to_apex_mm)),
        (Measure::WorkingLengthErrorMm, value(working_length)),
    ];
    if let Some(c) = &found.curvature {
        all.extend([
            (Measure::SchneiderErrorDeg, value(c.schneider_deg)),
            (Measure::WeineErrorDeg, value(c.weine_deg)),
            (Measure::AxisAxisErrorDeg, value(c.axis_axis_deg)),
            (Measure::PruettErrorDeg, value(c.pruett_deg)),
            (Measure::PruettRadiusErrorMm, value(c.pruett_radius_mm)),
            (Measure::LuitenErrorDeg, value(c.luiten_deg)),
            (Measure::SchaferRadiusErrorMm, value(c.schafer_radius_mm)),
            (
                Measure::SchaferCurveLengthErrorMm,
                value(c.schafer_curve_length_mm),
            ),
            (Measure::CanalAccessErrorDeg, value(c.canal_access_deg)),
            (
                Measure::CurvatureHeightErrorMm,
                value(c.curvature_height_mm),
            ),
            (
                Measure::CurvatureDistanceErrorMm,
                value(c.curvature_distance_mm),
            ),
            (Measure::EstrelaRadiusErrorMm, value(c.estrela_radius_mm)),
            (Measure::NetTurnErrorDeg, value(c.net_turn_deg)),
            (Measure::TotalTurnErrorDeg, value(c.total_turn_deg)),
            (Measure::SmallestRadiusErrorMm, value(c.smallest_radius_mm)),
        ]);
    }
    all.into_iter()
        .filter_map(|(measure, value)| Some((measure, value.filter(|v| v.is_finite())?)))
        .collect()
}
