//! One row per graded canal, for spreadsheets (docs/grading.md).

use super::grade::{CanalGrade, TraceGrade};
use super::measures::Measure;
use super::rubric::Rubric;
use crate::spreadsheet::{csv_bytes, inert};

/// The table as an RFC 4180 file: UTF-8, comma, decimal point, CRLF.
pub fn table<'a>(rubric: &Rubric, traces: impl IntoIterator<Item = &'a TraceGrade>) -> String {
    let rows = traces.into_iter().flat_map(rows);
    file(std::iter::once(header(rubric)).chain(rows))
}

/// The same of traces of several films, each with its film's name, which stands
/// in a first column.
pub fn table_of_films<'a>(
    rubric: &Rubric,
    traces: impl IntoIterator<Item = (&'a str, &'a TraceGrade)>,
) -> String {
    let with = |film: &str, mut cells: Vec<String>| {
        cells.insert(0, inert(film));
        cells
    };
    let rows = traces
        .into_iter()
        .flat_map(|(film, trace)| rows(trace).map(move |cells| with(film, cells)));
    file(std::iter::once(with("film", header(rubric))).chain(rows))
}

fn file(rows: impl Iterator<Item = Vec<String>>) -> String {
    String::from_utf8(csv_bytes(rows)).expect("cells are UTF-8")
}

fn header(rubric: &Rubric) -> Vec<String> {
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
    header.extend(Measure::all().iter().map(|m| m.key().to_owned()));
    header.extend(
        rubric
            .lines
            .iter()
            .map(|l| format!("verdict_{}", l.measure.key())),
    );
    header.push("strays".to_owned());
    header
}

fn rows(trace: &TraceGrade) -> impl Iterator<Item = Vec<String>> {
    trace.canals.iter().map(move |canal| row(trace, canal))
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
