//! What every curvature number means and where its definition comes from
//! (METHODS 5, REFERENCES 1.1).

use crate::measure::findings::{CurvatureFindings, Quantity};

/// One number of the curvature table.
pub struct CurvatureRow {
    /// Key of `measure --json` and column stem of the CSV.
    pub key: &'static str,
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

/// The rows of the curvature table, in the order of METHODS 5.
pub const CURVATURE_ROWS: [CurvatureRow; 16] = [
    row("schneider_deg", "Schneider angle", Unit::Degree, |c| {
        c.schneider_deg
    }),
    row("weine_deg", "Weine angle", Unit::Degree, |c| c.weine_deg),
    row("axis_axis_deg", "Axis to axis angle", Unit::Degree, |c| {
        c.axis_axis_deg
    }),
    row("pruett_deg", "Pruett angle", Unit::Degree, |c| c.pruett_deg),
    row("pruett_radius_mm", "Pruett radius", Unit::Millimetre, |c| {
        c.pruett_radius_mm
    }),
    row("luiten_deg", "Luiten angle", Unit::Degree, |c| c.luiten_deg),
    row(
        "schafer_radius_mm",
        "Schäfer radius",
        Unit::Millimetre,
        |c| c.schafer_radius_mm,
    ),
    row(
        "schafer_curve_length_mm",
        "Schäfer curve length",
        Unit::Millimetre,
        |c| c.schafer_curve_length_mm,
    ),
    row(
        "canal_access_deg",
        "Canal access angle (Günday)",
        Unit::Degree,
        |c| c.canal_access_deg,
    ),
    row(
        "curvature_height_mm",
        "Curvature height x (Günday)",
        Unit::Millimetre,
        |c| c.curvature_height_mm,
    ),
    row(
        "curvature_distance_mm",
        "Curvature distance y from the orifice, AD",
        Unit::Millimetre,
        |c| c.curvature_distance_mm,
    ),
    row(
        "curvature_distance_from_apex_mm",
        "Curvature distance from the apex, DC",
        Unit::Millimetre,
        |c| c.curvature_distance_from_apex_mm,
    ),
    row(
        "estrela_radius_mm",
        "Estrela radius",
        Unit::Millimetre,
        |c| c.estrela_radius_mm,
    ),
    row("net_turn_deg", "Net turning", Unit::Degree, |c| {
        c.net_turn_deg
    }),
    row("total_turn_deg", "Total turning", Unit::Degree, |c| {
        c.total_turn_deg
    }),
    row(
        "smallest_radius_mm",
        "Smallest radius",
        Unit::Millimetre,
        |c| c.smallest_radius_mm,
    ),
];

const fn row(
    key: &'static str,
    name: &'static str,
    unit: Unit,
    of: fn(&CurvatureFindings) -> Option<Quantity>,
) -> CurvatureRow {
    CurvatureRow {
        key,
        name,
        unit,
        of,
    }
}

/// What a method measures and its publication.
pub struct Citation {
    pub method: &'static str,
    pub meaning: &'static str,
    pub source: &'static str,
}

/// Every method a record uses.
pub const CITATIONS: [Citation; 15] = [
    Citation {
        method: "Schneider",
        meaning: "coronal axis against the line from the start of the bend to the apex",
        source: "Oral Surg Oral Med Oral Pathol 1971;32:271-5",
    },
    Citation {
        method: "Weine",
        meaning: "coronal tangent at the start of the bend against the apical tangent",
        source: "Endodontic Therapy, 3rd ed., 1982",
    },
    Citation {
        method: "Axis to axis",
        meaning: "long axes of the coronal and the apical segment (Hankins and ElDeeb)",
        source: "J Endod 1996;22:123-30",
    },
    Citation {
        method: "Pruett",
        meaning: "arc tangent to the straight pieces: angle and radius",
        source: "J Endod 1997;23:77-85",
    },
    Citation {
        method: "Luiten",
        meaning: "first 2 mm of the canal against its last 1 mm",
        source: "J Endod 1995;21:26-32",
    },
    Citation {
        method: "Schäfer",
        meaning: "radius and length of the arc from Schneider's angle and its chord",
        source: "J Endod 2002;28:211-6",
    },
    Citation {
        method: "Günday",
        meaning: "canal access angle, curvature height x and distance y",
        source: "J Endod 2005;31:796-8",
    },
    Citation {
        method: "Estrela",
        meaning: "circle through two 6 mm segments",
        source: "Braz Dent J 2008;19:114-8",
    },
    Citation {
        method: "Curve by curve",
        meaning: "each bend of one turning sign; S-shaped: two of opposite sign",
        source: "common practice, no source",
    },
    Citation {
        method: "Working length, file",
        meaning: "set length + tip to apex - allowance (Ingle's steps, Weine's allowances)",
        source: "taught practice; allowances 1.0 / 1.5 / 2.0 mm after Weine",
    },
    Citation {
        method: "Working length, proportion",
        meaning: "true instrument × tooth on film / instrument on film - allowance",
        source: "Grossman's proportion, as taught",
    },
    Citation {
        method: "Magnification",
        meaning: "apparent mm at the detector / true mm; SID / SOD",
        source: "DICOM PS3.3 C.8.7.6",
    },
    Citation {
        method: "Published tooth lengths",
        meaning: "range that asks to check the scale; never fills in a number",
        source: "Woelfel's Dental Anatomy tables",
    },
    Citation {
        method: "Uncertainty",
        meaning: "Monte Carlo over every input; U covers 95 %",
        source: "JCGM 101:2008; rounding JCGM 100:2008, 7.2.6",
    },
    Citation {
        method: "Case difficulty",
        meaning: "canal-curvature row: < 10° low, 10-30° moderate, > 30° or S-shaped high",
        source: "AAE case difficulty assessment form, 2022",
    },
];
