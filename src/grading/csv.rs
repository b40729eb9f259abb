//! One row per graded canal, for spreadsheets (docs/grading.md).

use super::grade::{CanalGrade, TraceGrade};
use super::measures::Measure;
use super::rubric::Rubric;
use crate::spreadsheet::{csv_bytes, inert};

/// The table as an RFC 4180 file: UTF-8, comma, decimal point, CRLF.
pub fn table(rubric: &Rubric, traces: &[TraceGrade]) -> String {
    let mut header: Vec<String> = [
        "student",
        "file",
        "canal",
        "passed",
        "points",
        "points_possible",
        "curved_length_mm",
        "curved_length_px",
    ]
    .map(str::to_owned)
    .to_vec();
    header.extend(Measure::ALL.iter().map(|m| m.key().to_owned()));
    header.extend(
        rubric
            .lines
            .iter()
            .map(|l| format!("verdict_{}", l.measure.key())),
    );
    header.push("strays".to_owned());
    let rows = traces
        .iter()
        .flat_map(|trace| trace.canals.iter().map(move |canal| row(trace, canal)));
    let bytes = csv_bytes(std::iter::once(header).chain(rows));
    String::from_utf8(bytes).expect("cells are UTF-8")
}

fn row(trace: &TraceGrade, canal: &CanalGrade) -> Vec<String> {
    let number = |value: Option<f64>| value.map_or(String::new(), |v| v.to_string());
    let mut cells = vec![
        inert(&trace.student),
        inert(&trace.file),
        inert(&canal.name),
        canal
            .passed
            .map_or("", |p| if p { "yes" } else { "no" })
            .to_owned(),
        canal.points.to_string(),
        canal.points_possible.to_string(),
        number(canal.curved_length_mm),
        number(canal.curved_length_px),
    ];
    cells.extend(canal.measures.values().map(|&value| number(value)));
    cells.extend(canal.lines.iter().map(|line| line.verdict.key().to_owned()));
    cells.push(canal.strays.join("; "));
    cells
}
