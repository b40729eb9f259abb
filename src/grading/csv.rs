//! One row per graded canal, for spreadsheets (docs/grading.md).

use super::grade::{CanalGrade, TraceGrade};
use super::measures::Measure;
use super::rubric::Rubric;

/// The table as an RFC 4180 file: UTF-8, comma, decimal point, CRLF.
pub fn table(rubric: &Rubric, traces: &[TraceGrade]) -> String {
    let mut table = ::csv::WriterBuilder::new()
        .terminator(::csv::Terminator::CRLF)
        .from_writer(Vec::new());
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
    for line in std::iter::once(header).chain(rows) {
        table
            .write_record(&line)
            .expect("rows of one length go to memory");
    }
    let bytes = table.into_inner().expect("writing to memory cannot fail");
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

/// Text that a spreadsheet would take for a formula gets an apostrophe in
/// front, which spreadsheets read as "this is text".
fn inert(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
