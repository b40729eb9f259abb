//! The catalogue of what is measured on a canal: key, name, unit and place of
//! every number. The curvature rows are those of [`crate::curvature`].
//!
//! Text, window, CSV, reports, budget and grading read it.

use super::findings::{CanalFindings, Quantity};
use crate::curvature::{self, CurvatureNumber, CurvatureQuantity, CurveQuantity};

/// A length of a canal, mm of the tooth frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthQuantity {
    /// Set length + tip-to-apex − allowance.
    Additive,
    /// Grossman length − allowance.
    Proportion,
    /// Tip → apex along the path, signed.
    TipToApex,
    /// Tip → apex straight, signed.
    TipToApexStraight,
    /// Reference point → apex along the path.
    ReferenceToApex,
    /// Length of the drawn curve.
    CurvedLength,
    /// Straight distance between its ends.
    Chord,
}

/// The line on the film a length is measured along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeasuredAlong {
    /// The canal's trace.
    Trace,
    /// Straight between the ends of the trace.
    Chord,
    /// From the reference point along the trace.
    FromReference,
    /// From the file tip along the path to the apex.
    TipToApex,
    /// From the file tip straight to the apex.
    TipToApexStraight,
    /// No one line: worked out from others.
    Nothing,
}

/// What is known of a [`LengthQuantity`].
#[derive(Debug)]
pub struct LengthRow {
    pub quantity: LengthQuantity,
    /// Key of `measure --json` and column of the CSV.
    pub key: &'static str,
    /// Code in the private scheme of the structured report.
    pub code: &'static str,
    /// Name, to stand within a sentence.
    pub name: &'static str,
    /// Definition in one line.
    pub meaning: &'static str,
    pub along: MeasuredAlong,
    /// The sources of its uncertainty are listed.
    pub has_budget: bool,
    /// The number among the findings.
    pub of: fn(&CanalFindings) -> Option<Quantity>,
}

/// Every length with an interval, in the order of every table.
pub const LENGTHS: [LengthRow; 7] = [
    LengthRow {
        quantity: LengthQuantity::Additive,
        key: "working_length_additive_mm",
        code: "WL_FILE",
        name: "working length, additive",
        meaning: "Working length: set length + tip to apex - allowance",
        along: MeasuredAlong::Nothing,
        has_budget: true,
        of: |c| c.working_length_additive_mm,
    },
    LengthRow {
        quantity: LengthQuantity::Proportion,
        key: "working_length_proportion_mm",
        code: "WL_PROPORTION",
        name: "working length, proportion",
        meaning: "Working length: Grossman proportion - allowance",
        along: MeasuredAlong::Nothing,
        has_budget: true,
        of: |c| c.working_length_proportion_mm,
    },
    LengthRow {
        quantity: LengthQuantity::TipToApex,
        key: "tip_to_apex_mm",
        code: "TIP_APEX",
        name: "tip to apex, along the path",
        meaning: "File tip to apex along the path, + is short",
        along: MeasuredAlong::TipToApex,
        has_budget: true,
        of: |c| c.tip_to_apex_mm,
    },
    LengthRow {
        quantity: LengthQuantity::TipToApexStraight,
        key: "tip_to_apex_straight_mm",
        code: "TIP_APEX_DIRECT",
        name: "tip to apex, straight",
        meaning: "File tip to apex straight, + is short",
        along: MeasuredAlong::TipToApexStraight,
        has_budget: false,
        of: |c| c.tip_to_apex_straight_mm,
    },
    LengthRow {
        quantity: LengthQuantity::ReferenceToApex,
        key: "reference_to_apex_mm",
        code: "REFERENCE_APEX",
        name: "reference to apex",
        meaning: "Reference point to apex along the path",
        along: MeasuredAlong::FromReference,
        has_budget: false,
        of: |c| c.reference_to_apex_mm,
    },
    LengthRow {
        quantity: LengthQuantity::CurvedLength,
        key: "curved_length_mm",
        code: "CURVED_LENGTH",
        name: "curved length",
        meaning: "Canal along its drawn curve, orifice to apex",
        along: MeasuredAlong::Trace,
        has_budget: true,
        of: |c| c.curved_length_mm,
    },
    LengthRow {
        quantity: LengthQuantity::Chord,
        key: "chord_mm",
        code: "CHORD",
        name: "straight, orifice to apex",
        meaning: "Canal straight, orifice to apex",
        along: MeasuredAlong::Chord,
        has_budget: false,
        of: |c| c.chord_mm,
    },
];

impl LengthQuantity {
    /// Number of lengths.
    pub const COUNT: usize = LENGTHS.len();

    /// What is known of it.
    pub fn row(self) -> &'static LengthRow {
        const ROWS: &[LengthRow] = &LENGTHS;
        &ROWS[self as usize]
    }
}

/// Outputs of one canal: lengths, then the numbers of its curvature.
pub const CANAL_OUTPUTS: usize = LengthQuantity::COUNT + CurvatureNumber::COUNT;

/// Any number of a canal that may have an uncertainty budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CanalQuantity {
    /// A length.
    Length(LengthQuantity),
    /// A number of curvature.
    Curvature(CurvatureQuantity),
    /// The turn of a curve, counted from the orifice, of so many.
    CurveTurn { place: usize, count: usize },
}

impl CanalQuantity {
    /// The quantities of `found` that have a budget and exist.
    pub fn with_budget(found: &CanalFindings) -> Vec<Self> {
        let lengths = LENGTHS.iter().filter(|row| row.has_budget);
        let mut all: Vec<_> = lengths.map(|row| Self::Length(row.quantity)).collect();
        if let Some(curvature) = &found.curvature {
            let angles = curvature::QUANTITIES.iter().filter(|row| row.has_budget);
            all.extend(angles.map(|row| Self::Curvature(row.quantity)));
            let count = curvature.curves.len();
            all.extend((0..count).map(|place| Self::CurveTurn { place, count }));
        }
        all.retain(|quantity| quantity.of(found).is_some());
        all
    }

    /// Key of the result in `measure --json`.
    pub fn key(self) -> String {
        match self {
            Self::Length(quantity) => quantity.row().key.to_owned(),
            Self::Curvature(quantity) => quantity.row().key.to_owned(),
            Self::CurveTurn { place, .. } => format!("curves[{place}].turn_deg"),
        }
    }

    /// The number among the findings, in the unit of its key.
    pub fn of(self, found: &CanalFindings) -> Option<Quantity> {
        match self {
            Self::Length(quantity) => (quantity.row().of)(found),
            Self::Curvature(quantity) => found.curvature.as_ref()?[quantity],
            Self::CurveTurn { place, .. } => found.curvature.as_ref()?.curves.get(place)?.turn_deg,
        }
    }

    /// Its place among the outputs of its canal.
    pub fn output(self) -> Option<usize> {
        let number = match self {
            Self::Length(quantity) => return Some(quantity as usize),
            Self::Curvature(quantity) => CurvatureNumber::Whole(quantity),
            // Findings list curves from the orifice, outputs from the apex.
            Self::CurveTurn { place, count } => {
                CurvatureNumber::Curve(count - 1 - place, CurveQuantity::Turn)
            }
        };
        Some(LengthQuantity::COUNT + number.index()?)
    }

    /// Shown / computed: ° per rad, or 1.
    pub fn shown_per_computed(self) -> f64 {
        match self {
            Self::Length(_) => 1.0,
            Self::Curvature(quantity) => quantity.row().dimension.shown_per_computed(),
            Self::CurveTurn { .. } => curvature::Dimension::Angle.shown_per_computed(),
        }
    }
}

/// The name of the result with this key of `measure --json`; the key itself
/// where it is none of the catalogue's.
pub fn name_of_key(key: &str) -> String {
    let curve = key
        .strip_prefix("curves[")
        .and_then(|rest| rest.strip_suffix("].turn_deg"))
        .and_then(|place| place.parse::<usize>().ok());
    if let Some(place) = curve {
        return format!("turn of curve {}", place + 1);
    }
    let lengths = LENGTHS.iter().map(|row| (row.key, row.name));
    let angles = curvature::QUANTITIES.iter().map(|row| (row.key, row.name));
    let name = lengths.chain(angles).find(|(found, _)| *found == key);
    name.map_or(key, |(_, name)| name).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_stands_in_its_place() {
        for (place, row) in LENGTHS.iter().enumerate() {
            assert_eq!(row.quantity as usize, place, "{}", row.key);
            assert!(row.key.ends_with("_mm"));
            assert_eq!(name_of_key(row.key), row.name);
        }
        assert_eq!(name_of_key("curves[1].turn_deg"), "turn of curve 2");
        assert_eq!(name_of_key("schneider_deg"), "Schneider angle");
    }

    /// The tables of the CSV record name every column the catalogue gives.
    #[test]
    fn docs_know_every_number() {
        let docs = include_str!("../../docs/csv.md");
        let lengths = LENGTHS.iter().map(|row| row.key);
        let numbers = curvature::QUANTITIES.iter().map(|row| row.key);
        for key in lengths.chain(numbers) {
            assert!(docs.contains(&format!("| `{key}` |")), "{key}");
        }
    }
}
