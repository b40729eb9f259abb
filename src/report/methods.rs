//! What every curvature number means and where its definition comes from
//! (docs/methods.md 5, docs/references.md).

use crate::curvature::Method;
use crate::measure::findings::{CurvatureFindings, Quantity};

/// One number of the curvature table.
pub struct CurvatureRow {
    /// Key of `measure --json` and column stem of the CSV.
    pub key: &'static str,
    /// Its code in the private scheme of the structured report.
    pub code: &'static str,
    pub name: &'static str,
    pub unit: Unit,
    pub of: fn(&CurvatureFindings) -> Option<Quantity>,
}

/// Units of curvature results.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    Degree,
    Millimetre,
}

impl Unit {
    /// As printed.
    pub fn sign(self) -> &'static str {
        match self {
            Unit::Degree => "°",
            Unit::Millimetre => "mm",
        }
    }
}

/// The rows of the curvature table, in the order of docs/methods.md 5.
pub const CURVATURE_ROWS: [CurvatureRow; 16] = [
    row(
        "schneider_deg",
        "SCHNEIDER",
        "Schneider angle",
        Unit::Degree,
        |c| c.schneider_deg,
    ),
    row("weine_deg", "WEINE", "Weine angle", Unit::Degree, |c| {
        c.weine_deg
    }),
    row(
        "axis_axis_deg",
        "AXIS_AXIS",
        "Axis–axis angle",
        Unit::Degree,
        |c| c.axis_axis_deg,
    ),
    row("pruett_deg", "PRUETT", "Pruett angle", Unit::Degree, |c| {
        c.pruett_deg
    }),
    row(
        "pruett_radius_mm",
        "PRUETT_RADIUS",
        "Pruett radius",
        Unit::Millimetre,
        |c| c.pruett_radius_mm,
    ),
    row("luiten_deg", "LUITEN", "Luiten angle", Unit::Degree, |c| {
        c.luiten_deg
    }),
    row(
        "schafer_radius_mm",
        "SCHAEFER_RADIUS",
        "Schäfer radius",
        Unit::Millimetre,
        |c| c.schafer_radius_mm,
    ),
    row(
        "schafer_curve_length_mm",
        "SCHAEFER_LENGTH",
        "Schäfer curve length",
        Unit::Millimetre,
        |c| c.schafer_curve_length_mm,
    ),
    row(
        "canal_access_deg",
        "CANAL_ACCESS",
        "Günday canal access angle",
        Unit::Degree,
        |c| c.canal_access_deg,
    ),
    row(
        "curvature_height_mm",
        "CURVE_HEIGHT",
        "Günday curvature height x",
        Unit::Millimetre,
        |c| c.curvature_height_mm,
    ),
    row(
        "curvature_distance_mm",
        "CURVE_DIST_AD",
        "Günday distance y from the orifice, AD",
        Unit::Millimetre,
        |c| c.curvature_distance_mm,
    ),
    row(
        "curvature_distance_from_apex_mm",
        "CURVE_DIST_DC",
        "Günday distance from the apex, DC",
        Unit::Millimetre,
        |c| c.curvature_distance_from_apex_mm,
    ),
    row(
        "estrela_radius_mm",
        "ESTRELA_RADIUS",
        "Estrela radius",
        Unit::Millimetre,
        |c| c.estrela_radius_mm,
    ),
    row("net_turn_deg", "NET_TURN", "Net turn", Unit::Degree, |c| {
        c.net_turn_deg
    }),
    row(
        "total_turn_deg",
        "TOTAL_TURN",
        "Total turning",
        Unit::Degree,
        |c| c.total_turn_deg,
    ),
    row(
        "smallest_radius_mm",
        "SMALLEST_RADIUS",
        "Smallest radius",
        Unit::Millimetre,
        |c| c.smallest_radius_mm,
    ),
];

const fn row(
    key: &'static str,
    code: &'static str,
    name: &'static str,
    unit: Unit,
    of: fn(&CurvatureFindings) -> Option<Quantity>,
) -> CurvatureRow {
    CurvatureRow {
        key,
        code,
        name,
        unit,
        of,
    }
}

/// What a curvature method measures.
pub fn meaning(method: Method) -> &'static str {
    match method {
        Method::Schneider => "coronal axis against the line from the start of the bend to the apex",
        Method::Weine => "coronal tangent at the start of the bend against the apical tangent",
        Method::AxisAxis => "long axes of the coronal and the apical segment",
        Method::Pruett => "arc tangent to both straight pieces: angle and radius",
        Method::Luiten => "first 2 mm of the canal against its last 1 mm",
        Method::Schafer => "radius and length of the arc from Schneider's angle and its chord",
        Method::Gunday => "canal access angle, curvature height x and distance y",
        Method::Estrela => "circle through two segments of 6 mm",
    }
}

/// The other methods a record uses: name, what is measured, source.
pub const OTHER_METHODS: [(&str, &str, &str); 7] = [
    (
        "Curve by curve",
        "each bend of one turning sign; S-shaped: two of opposite sign above the threshold",
        "our own rule; Cunningham and Senia 1992 for secondary curves",
    ),
    (
        "Working length, additive",
        "set length + tip to apex − allowance; allowances 1.0, 1.5, 2.0 mm after Weine",
        "Ingle's steps and Weine's subtraction, as taught",
    ),
    (
        "Working length, proportion",
        "true instrument × tooth on film / instrument on film − allowance",
        "Grossman's proportion, as taught",
    ),
    (
        "Magnification",
        "apparent mm at the detector / true mm; SID / SOD",
        "DICOM PS3.3 C.8.7.6",
    ),
    (
        "Published tooth lengths",
        "a range that asks to check the scale; it never fills in a number",
        "Woelfel's tables of dental anatomy",
    ),
    (
        "Uncertainty",
        "U covers 95 %; values are rounded to the place of U",
        "JCGM 100:2008, 7.2.6, and JCGM 101:2008",
    ),
    (
        "Case difficulty",
        "canal-curvature row: below 10° low, 10–30° moderate, above 30° or S-shaped high",
        "AAE case difficulty assessment form, 2022",
    ),
];
