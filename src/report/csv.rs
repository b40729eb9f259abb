//! One row per canal, for spreadsheets and statistics (docs/csv.md).

use super::measured_case::MeasuredCase;
use crate::curvature::{DifficultyClass, Dimension, QUANTITIES};
use crate::measure::catalogue::LengthQuantity;
use crate::measure::findings::{CanalFindings, CurvatureFindings, CurveFinding, Quantity};
use crate::spreadsheet::{csv_bytes, inert};
use crate::two_view::TwoViewFindings;

/// Curves that have columns of their own; a canal with more is named in
/// `curve_count`.
const CURVES: usize = 3;

/// Lengths before the allowance, in the order of their columns.
const LENGTH_COLUMNS: [LengthQuantity; 5] = [
    LengthQuantity::CurvedLength,
    LengthQuantity::Chord,
    LengthQuantity::ReferenceToApex,
    LengthQuantity::TipToApex,
    LengthQuantity::TipToApexStraight,
];

/// The table as the bytes of an RFC 4180 file: UTF-8, comma, decimal point,
/// CRLF. A byte order mark comes first only where some text is not ASCII,
/// since spreadsheets need it then and other readers do not.
pub fn bytes(measured: &MeasuredCase) -> Vec<u8> {
    let canals = &measured.findings.canals;
    let rows: Vec<Vec<(String, String)>> =
        canals.iter().map(|canal| row(measured, canal)).collect();
    let header: Vec<String> = match rows.first() {
        Some(row) => row.iter().map(|(name, _)| name.clone()).collect(),
        None => row(measured, &CanalFindings::default())
            .into_iter()
            .map(|(name, _)| name)
            .collect(),
    };
    let lines = std::iter::once(header).chain(
        rows.into_iter()
            .map(|row| row.into_iter().map(|(_, cell)| cell).collect()),
    );
    let text = csv_bytes(lines);
    if text.is_ascii() {
        text
    } else {
        [b"\xef\xbb\xbf".as_slice(), &text].concat()
    }
}

fn row(measured: &MeasuredCase, canal: &CanalFindings) -> Vec<(String, String)> {
    let (case, provenance, findings) = (measured.case, &measured.provenance, measured.findings);
    let mut cells = Cells(Vec::new());
    let input = case.canals.iter().find(|c| c.name == canal.name);
    cells.text("case", &provenance.case_name);
    cells.text("film", &provenance.film_name);
    cells.text("film_date", provenance.film_date.as_deref().unwrap_or(""));
    cells.text("tooth_fdi", provenance.tooth_fdi.as_deref().unwrap_or(""));
    cells.text("canal", &canal.name);
    cells.text(
        "reference_point",
        input
            .and_then(|c| c.reference_name.as_deref())
            .unwrap_or(""),
    );
    cells.text("scale_source", &findings.scale.source);
    cells.number("mm_per_px", findings.scale.mm_per_px);
    cells.number("u_mm_per_px", findings.scale.u_mm_per_px);
    cells.number("magnification", findings.scale.magnification);

    cells.number("curved_length_px", canal.curved_length_px);
    let length = |cells: &mut Cells, quantity: LengthQuantity| {
        let row = quantity.row();
        cells.quantity(row.key, (row.of)(canal));
    };
    // The order of columns is a promise to those who read them by number.
    for quantity in LENGTH_COLUMNS {
        length(&mut cells, quantity);
    }
    cells.number("allowance_mm", Some(canal.allowance_mm));
    length(&mut cells, LengthQuantity::Additive);
    length(&mut cells, LengthQuantity::Proportion);
    cells.number("working_length_chart_mm", canal.working_length_chart_mm);

    let none = CurvatureFindings::default();
    let curvature = canal.curvature.as_ref().unwrap_or(&none);
    for row in &QUANTITIES {
        let found = curvature[row.quantity];
        if row.has_interval {
            cells.quantity(row.key, found);
        } else {
            cells.number(row.key, found.map(|q| q.value));
        }
    }
    let known = canal.curvature.is_some();
    cells.text(
        "s_shaped",
        match (known, curvature.s_shaped) {
            (false, _) => "",
            (true, true) => "yes",
            (true, false) => "no",
        },
    );
    cells.text(
        "difficulty_class",
        curvature.difficulty.class.as_deref().unwrap_or(""),
    );
    cells.text("difficulty_method", &curvature.difficulty.method);
    cells.number(
        "curve_count",
        known.then_some(curvature.curves.len() as f64),
    );
    for i in 0..CURVES {
        let curve = curvature.curves.get(i);
        let n = i + 1;
        cells.quantity(
            &format!("curve{n}_turn_deg"),
            curve.and_then(|c| c.turn_deg),
        );
        cells.quantity(
            &format!("curve{n}_radius_mm"),
            curve.and_then(|c| c.radius_mm),
        );
        cells.number(
            &format!("curve{n}_start_from_apex_mm"),
            curve.and_then(|c| c.start_from_apex_mm),
        );
        cells.number(
            &format!("curve{n}_end_from_apex_mm"),
            curve.and_then(|c| c.end_from_apex_mm),
        );
    }
    let codes: Vec<&str> = findings
        .warnings
        .iter()
        .filter(|w| w.canal.as_ref().is_none_or(|name| *name == canal.name))
        .map(|w| w.code.as_str())
        .collect();
    cells.text("warnings", &codes.join(" "));
    cells.text("case_sha256", &provenance.case_sha256);
    cells.text("software", &provenance.software);
    in_space(measured, canal, &mut cells);
    assessment(measured, &mut cells);
    radius_intervals(curvature, &mut cells);
    further_curve_in_space(measured, canal, &mut cells);
    cells.0
}

/// What two films say of the canal; empty without a second film.
fn in_space(measured: &MeasuredCase, canal: &CanalFindings, cells: &mut Cells) {
    let found = measured.in_space(&canal.name);
    let quantity = |of: fn(&TwoViewFindings) -> Option<Quantity>| found.and_then(of);
    cells.number("space_angle_deg", found.map(|f| f.angle_deg));
    cells.quantity("space_length_mm", quantity(|f| Some(f.length_mm)));
    cells.quantity("space_working_length_mm", quantity(|f| f.working_length_mm));
    cells.quantity("space_net_turn_deg", quantity(|f| Some(f.net_turn_deg)));
    cells.quantity("space_total_turn_deg", quantity(|f| Some(f.total_turn_deg)));
    cells.number("space_noise_floor_deg", found.map(|f| f.noise_floor_deg));
    cells.number("space_mismatch_mm", found.map(|f| f.mismatch_mm));
    cells.number("space_curve_count", found.map(|f| f.curves.len() as f64));
    for i in 0..CURVES {
        let curve = found.and_then(|f| f.curves.get(i));
        let n = i + 1;
        cells.quantity(
            &format!("space_curve{n}_turn_deg"),
            curve.map(|c| c.turn_deg),
        );
        cells.quantity(
            &format!("space_curve{n}_radius_mm"),
            curve.map(|c| c.radius_mm),
        );
        cells.number(
            &format!("space_curve{n}_plane_deg"),
            curve.map(|c| c.plane_deg),
        );
    }
}

/// A curve in space that cannot be excluded; a later column than the others.
fn further_curve_in_space(measured: &MeasuredCase, canal: &CanalFindings, cells: &mut Cells) {
    let found = measured.in_space(&canal.name);
    let further = found.and_then(|f| f.possible_further_curve.as_ref());
    cells.number(
        "space_further_curve_upto_deg",
        further.map(|f| f.turn_upto_deg),
    );
}

/// The case difficulty assessment, the same in every row of a case.
fn assessment(measured: &MeasuredCase, cells: &mut Cells) {
    let found = &measured.findings.assessment;
    let label = |class: Option<DifficultyClass>| class.map_or("", DifficultyClass::label);
    cells.text("assessment_class", label(found.class));
    cells.text("assessment_so_far", label(found.so_far));
    for class in DifficultyClass::ALL {
        let share = found.probabilities.map(|shares| shares.of(class));
        cells.number(&format!("assessment_{}_probability", class.label()), share);
    }
    cells.number("assessment_rows_open", Some(found.rows_open as f64));
    let assessed = found.rows.iter().filter_map(|row| {
        let class = row.class?;
        Some(format!("{}={}", row.key, class.label()))
    });
    cells.text("assessment_rows", &assessed.collect::<Vec<_>>().join(" "));
}

/// Both ends of the 95 % intervals of the radii, which are seldom even.
fn radius_intervals(curvature: &CurvatureFindings, cells: &mut Cells) {
    let radii = QUANTITIES
        .iter()
        .filter(|row| row.has_interval && row.dimension == Dimension::Radius);
    for row in radii {
        cells.span(row.key, curvature.span(row.quantity));
    }
    for i in 0..CURVES {
        let curve = curvature.curves.get(i);
        let span = curve.and_then(CurveFinding::radius_span_mm);
        cells.span(&format!("curve{}_radius_mm", i + 1), span);
    }
}

/// The cells of one row with their column names.
struct Cells(Vec<(String, String)>);

impl Cells {
    fn text(&mut self, column: &str, text: &str) {
        self.0.push((column.to_owned(), inert(text)));
    }

    fn number(&mut self, column: &str, number: Option<f64>) {
        let cell = match number {
            Some(x) if x.is_finite() => shortest(x),
            _ => String::new(),
        };
        self.0.push((column.to_owned(), cell));
    }

    /// `tip_to_apex_mm` and `tip_to_apex_u95_mm`.
    fn quantity(&mut self, column: &str, quantity: Option<Quantity>) {
        self.number(column, quantity.map(|q| q.value));
        self.number(&with_part(column, "u95"), quantity.map(|q| q.u95));
    }

    /// `curve1_radius_low_mm` and `curve1_radius_high_mm`.
    fn span(&mut self, column: &str, span: Option<[f64; 2]>) {
        self.number(&with_part(column, "low"), span.map(|[low, _]| low));
        self.number(&with_part(column, "high"), span.map(|[_, high]| high));
    }
}

/// The name of a quantity's column with `part` before its unit.
fn with_part(column: &str, part: &str) -> String {
    let (stem, unit) = column
        .rsplit_once('_')
        .expect("a quantity's column ends in its unit");
    format!("{stem}_{part}_{unit}")
}

/// Six decimals at most, no exponent, no trailing zeros.
fn shortest(x: f64) -> String {
    let text = format!("{x:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

#[cfg(test)]
mod tests {
    use super::shortest;

    #[test]
    fn numbers_have_a_point_and_no_exponent() {
        for (x, text) in [
            (20.0, "20"),
            (0.0238, "0.0238"),
            (1e-9, "0"),
            (-0.61, "-0.61"),
            (123456789.5, "123456789.5"),
        ] {
            assert_eq!(shortest(x), text);
        }
    }
}
