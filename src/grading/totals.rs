//! Every student's total: what is done, what is not, and what it is worth.

use std::collections::BTreeMap;

use serde::Serialize;

use super::class::Refused;
use super::grade::TraceGrade;
use super::roster::Roster;
use crate::spreadsheet::{Dialect, inert};

/// One student over all films of the class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudentTotal {
    pub student: String,
    /// Graded traces, every attempt.
    pub traces: usize,
    /// Films to be done: all that the student is not excused from.
    pub films: usize,
    /// Films passed, by the attempt that counts.
    pub passed: usize,
    /// Films without a graded trace.
    pub undone: usize,
    /// Films the student is excused from.
    pub excused: usize,
    /// Files that could not be graded.
    pub refused: usize,
    pub points: f64,
    /// Undone films count with all they are worth.
    pub points_possible: f64,
    /// `null` where nothing could be had.
    pub percent: Option<f64>,
    /// One film: it is passed. Several: the share of the points and that of the
    /// films passed both reach the rubric's, so that points elsewhere do not
    /// make up for what is required. `null` where nothing could be assessed.
    pub has_passed: Option<bool>,
    /// The attempt that counts of each film, `null` where nothing is graded.
    pub counted_attempts: Vec<Option<usize>>,
}

/// What of a film the totals rest on.
pub struct FilmResults<'a> {
    /// The film's name.
    pub film: &'a str,
    pub traces: &'a [TraceGrade],
    /// What an exact trace is worth.
    pub points_possible: f64,
}

/// Totals of every student of the roster and of every one who handed in, by
/// name.
pub fn totals(
    films: &[FilmResults],
    refused: &[&Refused],
    roster: &Roster,
    pass_share: f64,
) -> Vec<StudentTotal> {
    let traced = films.iter().flat_map(|film| film.traces.iter());
    let named = traced.map(|trace| trace.student.as_str());
    let of_refused = refused.iter().map(|refused| refused.student.as_str());
    let mut students: BTreeMap<&str, Vec<Option<&TraceGrade>>> = BTreeMap::new();
    for name in named.chain(of_refused).chain(roster.names()) {
        students
            .entry(name)
            .or_insert_with(|| vec![None; films.len()]);
    }
    for (index, film) in films.iter().enumerate() {
        for trace in film.traces.iter().filter(|trace| trace.counts) {
            if let Some(own) = students.get_mut(trace.student.as_str()) {
                own[index] = Some(trace);
            }
        }
    }
    let mut trace_counts: BTreeMap<&str, usize> = BTreeMap::new();
    for trace in films.iter().flat_map(|film| film.traces.iter()) {
        *trace_counts.entry(&trace.student).or_default() += 1;
    }
    let mut refused_counts: BTreeMap<&str, usize> = BTreeMap::new();
    for one in refused.iter().filter(|one| one.is_file()) {
        *refused_counts.entry(&one.student).or_default() += 1;
    }
    let totals = students.into_iter().map(|(student, counted)| {
        let mut total = StudentTotal {
            student: student.to_owned(),
            traces: trace_counts.get(student).copied().unwrap_or(0),
            films: 0,
            passed: 0,
            undone: 0,
            excused: 0,
            refused: refused_counts.get(student).copied().unwrap_or(0),
            points: 0.0,
            points_possible: 0.0,
            percent: None,
            has_passed: None,
            counted_attempts: counted.iter().map(|t| t.map(|t| t.attempt)).collect(),
        };
        for (film, trace) in films.iter().zip(&counted) {
            match trace {
                // What is handed in counts, excused or not.
                Some(trace) => {
                    total.films += 1;
                    total.passed += usize::from(trace.passed == Some(true));
                    total.points += trace.points;
                    total.points_possible += trace.points_possible;
                }
                None if roster.excuses(student, film.film) => total.excused += 1,
                None => {
                    total.films += 1;
                    total.undone += 1;
                    total.points_possible += film.points_possible;
                }
            }
        }
        if total.points_possible > 0.0 {
            let share = total.points / total.points_possible;
            total.percent = Some(100.0 * share);
            let failed = counted.iter().flatten();
            let failed = failed.filter(|trace| trace.passed == Some(false)).count();
            // Films that could not be judged count neither way.
            let judged = (total.passed + failed + total.undone) as f64;
            let is_enough = |share: f64| share >= pass_share - 1e-9;
            total.has_passed = match counted.as_slice() {
                [Some(only)] => only.passed,
                _ => Some(is_enough(share) && is_enough(total.passed as f64 / judged.max(1.0))),
            };
        }
        total
    });
    totals.collect()
}

/// One row per student, as learning platforms import it.
pub fn table(totals: &[StudentTotal], dialect: Dialect) -> Vec<u8> {
    let header = [
        "student",
        "points",
        "points_possible",
        "percent",
        "passed",
        "films",
        "films_passed",
        "undone",
        "excused",
        "refused",
        "attempts",
    ];
    let rows = totals.iter().map(|total| {
        vec![
            inert(&total.student),
            dialect.number(total.points),
            dialect.number(total.points_possible),
            total.percent.map_or(String::new(), |percent| {
                dialect.number((10.0 * percent).round() / 10.0)
            }),
            passed_cell(total.has_passed).to_owned(),
            total.films.to_string(),
            total.passed.to_string(),
            total.undone.to_string(),
            total.excused.to_string(),
            total.refused.to_string(),
            total.traces.to_string(),
        ]
    });
    dialect.bytes(std::iter::once(header.map(str::to_owned).to_vec()).chain(rows))
}

/// `yes`, `no` or nothing.
pub fn passed_cell(passed: Option<bool>) -> &'static str {
    match passed {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    }
}
