//! One row per graded canal, and one per hand-in that could not be graded, for
//! spreadsheets (docs/grading.md).

use super::class::Refused;
use super::copies;
use super::grade::{CanalGrade, TraceGrade, Verdict};
use super::measures::Measure;
use super::rubric::Rubric;
use super::totals::passed_cell;
use crate::spreadsheet::{Dialect, inert};

/// What of one film the table holds.
pub struct FilmRows<'a> {
    /// The film's name, where the table has a column for it.
    pub film: Option<&'a str>,
    pub traces: &'a [TraceGrade],
    pub refused: &'a [Refused],
}

/// The table: one header, the rows of every film.
pub fn table<'a>(
    rubric: &Rubric,
    films: impl IntoIterator<Item = FilmRows<'a>>,
    dialect: Dialect,
) -> Vec<u8> {
    let films: Vec<FilmRows> = films.into_iter().collect();
    let has_films = films.iter().any(|film| film.film.is_some());
    let measures = judged(rubric);
    let header = header(&measures, has_films);
    let mut rows = vec![header];
    for film in &films {
        let lead = || has_films.then(|| inert(film.film.unwrap_or_default()));
        for trace in film.traces {
            for canal in &trace.canals {
                let cells = row(rubric, &measures, trace, canal, dialect);
                rows.push(lead().into_iter().chain(cells).collect());
            }
            for canal in &trace.missing_canals {
                let cells = [&trace.student, &trace.file]
                    .map(|text| inert(text))
                    .to_vec();
                let status = ["not traced".to_owned(), String::new(), inert(canal)];
                rows.push(filled(lead(), cells, status, "", &rows[0]));
            }
        }
        for refused in film.refused {
            let cells = [&refused.student, &refused.file]
                .map(|text| inert(text))
                .to_vec();
            let status = [refused.status().to_owned(), String::new(), String::new()];
            let reason = inert(refused.reason.text());
            rows.push(filled(lead(), cells, status, &reason, &rows[0]));
        }
    }
    dialect.bytes(rows)
}

/// A row that has no numbers: name and file, status, attempt and canal, and
/// the remark at its end.
fn filled(
    lead: Option<String>,
    names: Vec<String>,
    status: [String; 3],
    remark: &str,
    header: &[String],
) -> Vec<String> {
    let mut cells: Vec<String> = lead.into_iter().chain(names).chain(status).collect();
    cells.resize(header.len() - 1, String::new());
    cells.push(remark.to_owned());
    cells
}

/// Measures the rubric judges, each once.
fn judged(rubric: &Rubric) -> Vec<Measure> {
    let mut measures = Vec::new();
    for line in &rubric.lines {
        if !measures.contains(&line.measure) {
            measures.push(line.measure);
        }
    }
    measures
}

fn header(measures: &[Measure], has_films: bool) -> Vec<String> {
    let film = has_films.then_some("film");
    let first = [
        "student",
        "file",
        "status",
        "attempt",
        "canal",
        "date",
        "counts",
        "passed",
        "points",
        "points_possible",
        "curved_length_mm",
        "curved_length_px",
        "set_length_mm",
        "chart_mm",
    ];
    let mut header: Vec<String> = film.into_iter().chain(first).map(str::to_owned).collect();
    header.extend(Measure::all().iter().map(|m| m.key().to_owned()));
    header.extend(measures.iter().map(|m| format!("verdict_{}", m.key())));
    header.extend(["strays", "assisted", "remarks"].map(str::to_owned));
    header
}

fn row(
    rubric: &Rubric,
    measures: &[Measure],
    trace: &TraceGrade,
    canal: &CanalGrade,
    dialect: Dialect,
) -> Vec<String> {
    let number = |value: Option<f64>| value.map_or(String::new(), |v| dialect.number(v));
    let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
    let mut cells = vec![
        inert(&trace.student),
        inert(&trace.file),
        "graded".to_owned(),
        trace.attempt.to_string(),
        inert(&canal.name),
        inert(trace.date.as_deref().unwrap_or_default()),
        yes(trace.counts),
        passed_cell(canal.passed).to_owned(),
        dialect.number(canal.points),
        dialect.number(canal.points_possible),
        number(canal.curved_length_mm),
        number(canal.curved_length_px),
        number(canal.set_length_mm),
        number(canal.chart_mm),
    ];
    cells.extend(canal.measures.values().map(|&value| number(value)));
    cells.extend(measures.iter().map(|measure| {
        let lines = rubric.lines.iter().zip(&canal.lines);
        let mut lines = lines.filter(|(line, _)| line.measure == *measure);
        let own = lines.find(|(_, grade)| grade.verdict != Verdict::NotApplicable);
        own.map_or(String::new(), |(_, grade)| grade.verdict.key().to_owned())
    }));
    let strays: Vec<&str> = canal.strays.iter().map(String::as_str).collect();
    cells.push(inert(&strays.join("; ")));
    cells.push(yes(canal.assisted));
    let remarks = canal.warnings.iter().chain(&trace.warnings).cloned();
    let remarks: Vec<String> = remarks.chain(copies::words(canal)).collect();
    cells.push(inert(&remarks.join("; ")));
    cells
}
