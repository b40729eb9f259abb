//! The card as a table: one row per file and canal.

use crate::instrumentation::{CanalInstruments, InstrumentFindings};
use crate::spreadsheet::{csv_bytes, inert};
use crate::units::Quantity;

/// The table as an RFC 4180 file: UTF-8, comma, decimal point, CRLF.
pub fn bytes(findings: &InstrumentFindings) -> Vec<u8> {
    let levels_mm = levels_mm(findings);
    let header = [
        "case",
        "canal",
        "file",
        "iso_colour",
        "size",
        "taper",
        "working_length_mm",
        "working_length_u95_mm",
        "working_length_chart_mm",
        "step_back_mm",
        "stop_mm",
        "tip_from_apex_mm",
        "peak_strain_percent",
        "peak_strain_u95_percent",
        "peak_from_tip_mm",
        "peak_from_apex_mm",
        "times_first",
        "times_first_u95",
        "in_bend_mm",
        "passive_tip_from_apex_mm",
        "contact_from_apex_mm",
    ];
    let levels = levels_mm
        .iter()
        .map(|&mm| format!("diameter_left_at_{}_mm", number(Some(mm))));
    let header = header
        .map(str::to_owned)
        .into_iter()
        .chain(levels)
        .collect();
    let rows = findings.canals.iter().flat_map(|canal| {
        (0..canal.files.len()).map(|file| row(findings, canal, file, &levels_mm))
    });
    csv_bytes(std::iter::once(header).chain(rows))
}

fn row(
    findings: &InstrumentFindings,
    canal: &CanalInstruments,
    index: usize,
    levels_mm: &[f64],
) -> Vec<String> {
    let (file, line) = (&canal.files[index], &canal.card[index]);
    let value = |quantity: Option<Quantity>| number(quantity.map(|q| q.value));
    let u95 = |quantity: Option<Quantity>| number(quantity.map(|q| q.u95));
    let mut cells = vec![
        inert(&findings.case),
        inert(&canal.name),
        inert(&file.file),
        file.colour.clone(),
        number(Some(file.size)),
        number(file.taper),
        value(canal.working_length_mm),
        u95(canal.working_length_mm),
        number(canal.working_length_chart_mm),
        number(Some(line.step_back_mm)),
        number(line.stop_mm),
        number(Some(line.tip_from_apex_mm)),
        value(file.peak_strain_percent),
        u95(file.peak_strain_percent),
        number(file.peak_from_tip_mm),
        number(file.peak_from_apex_mm),
        value(file.times_first),
        u95(file.times_first),
        number(file.in_bend_mm),
        number(file.binds.map(|binds| binds.passive_tip_from_apex_mm)),
        number(file.binds.and_then(|binds| binds.contact_from_apex_mm)),
    ];
    cells.extend(levels_mm.iter().map(|&mm| {
        let mut levels = line.diameter_left_mm.iter();
        let level = levels.find(|level| (level.from_apex_mm - mm).abs() < 1e-9);
        number(level.map(|level| level.mm))
    }));
    cells
}

/// Every level that some file reaches.
fn levels_mm(findings: &InstrumentFindings) -> Vec<f64> {
    let canals = findings.canals.iter();
    let mut levels: Vec<f64> = canals
        .flat_map(|canal| canal.shaped.iter().map(|level| level.from_apex_mm))
        .collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    levels
}

/// Six decimals at most, no exponent, no trailing zeros.
fn number(value: Option<f64>) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else {
        return String::new();
    };
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}
