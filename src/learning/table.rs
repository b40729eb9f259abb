//! Results of students in order, from a table.

use std::collections::BTreeMap;

use thiserror::Error;

use crate::spreadsheet::{line_of, parse_number, separator};

/// One student's results in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    pub student: String,
    /// One entry per case.
    pub cases: Vec<Case>,
}

/// One result.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    pub passed: bool,
    /// Signed error, where the table holds errors.
    pub error_mm: Option<f64>,
    /// Group or phase, where the table has such a column.
    pub group: Option<String>,
}

/// All series of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Results {
    /// By name.
    pub students: Vec<Series>,
    /// Errors are given, not passes alone.
    pub has_errors: bool,
    /// What the reader had to decide, in plain words.
    pub remarks: Vec<String>,
}

/// Why a table cannot be read. Lines count from 1, the heading included.
#[derive(Debug, Error, PartialEq)]
pub enum TableError {
    #[error(
        "the table has no column \"{0}\"; its first line must name student, order, and passed or error_mm"
    )]
    NoColumn(&'static str),
    #[error("the table has no results below its heading")]
    Empty,
    #[error("line {line}: no student")]
    NoStudent { line: usize },
    #[error("line {line} (student {student}): {what}")]
    Cell {
        line: usize,
        student: String,
        what: String,
    },
    #[error("errors in mm need a limit that they pass by: --limit-mm, for example 0.5")]
    NoLimit,
    #[error("{0}")]
    Csv(String),
}

/// What cases are put in order by: numbers before dates before other words.
#[derive(Clone, Debug, PartialEq)]
enum Order {
    Number(f64),
    Text(String),
}

impl Order {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        match (self, other) {
            (Self::Number(a), Self::Number(b)) => a.total_cmp(b),
            (Self::Text(a), Self::Text(b)) => a.cmp(b),
            (Self::Number(_), Self::Text(_)) => std::cmp::Ordering::Less,
            (Self::Text(_), Self::Number(_)) => std::cmp::Ordering::Greater,
        }
    }
}

/// Reads a table with the columns `student`, `order` (a number or a date of
/// ISO 8601), and `passed` (1/0, yes/no) or `error_mm`; `group` may be there.
/// An error passes when it is no larger than `limit_mm`.
///
/// # Errors
/// [`TableError`], which names the line.
pub fn parse(text: &str, limit_mm: Option<f64>) -> Result<Results, TableError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let separator = separator(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let csv_error =
        |e: csv::Error| TableError::Csv(format!("the table is not readable as CSV: {e}"));
    let headings = reader.headers().map_err(csv_error)?.clone();
    let column = |name: &str| headings.iter().position(|h| h.eq_ignore_ascii_case(name));
    let student_at = column("student").ok_or(TableError::NoColumn("student"))?;
    let order_at = column("order").ok_or(TableError::NoColumn("order"))?;
    let (passed_at, error_at) = (column("passed"), column("error_mm"));
    let group_at = column("group");
    if passed_at.is_none() && error_at.is_none() {
        return Err(TableError::NoColumn("passed"));
    }
    if error_at.is_some() && passed_at.is_none() && limit_mm.is_none() {
        return Err(TableError::NoLimit);
    }
    let decimal_comma = separator != b',';
    let mut rows: BTreeMap<String, Vec<(Order, Case)>> = BTreeMap::new();
    for record in reader.records() {
        let record = record.map_err(csv_error)?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let line = line_of(text, &record);
        let cell = |at: Option<usize>| at.and_then(|at| record.get(at)).unwrap_or_default();
        let student = cell(Some(student_at)).to_owned();
        if student.is_empty() {
            return Err(TableError::NoStudent { line });
        }
        let fault = |what: String| TableError::Cell {
            line,
            student: student.clone(),
            what,
        };
        let order = cell(Some(order_at));
        if order.is_empty() {
            return Err(fault("no order".to_owned()));
        }
        let order = match parse_number(order, decimal_comma) {
            Some(number) => Order::Number(number),
            None => Order::Text(order.to_owned()),
        };
        let error = cell(error_at);
        let error_mm = match error_at {
            None => None,
            Some(_) => Some(
                parse_number(error, decimal_comma)
                    .ok_or_else(|| fault(format!("error_mm \"{error}\" is not a finite number")))?,
            ),
        };
        // A limit asked for decides over what the table says.
        let passed = match (error_mm, limit_mm, passed_at) {
            (Some(error), Some(limit), _) => error.abs() <= limit + 1e-9,
            (_, _, at) => yes_or_no(cell(at))
                .ok_or_else(|| fault(format!("passed \"{}\" is neither 1 nor 0", cell(at))))?,
        };
        let group = cell(group_at);
        let case = Case {
            passed,
            error_mm,
            group: (!group.is_empty()).then(|| group.to_owned()),
        };
        rows.entry(student).or_default().push((order, case));
    }
    if rows.is_empty() {
        return Err(TableError::Empty);
    }
    let mut remarks = Vec::new();
    let students = rows.into_iter().map(|(student, mut cases)| {
        cases.sort_by(|a, b| a.0.cmp(&b.0));
        if cases.windows(2).any(|pair| pair[0].0 == pair[1].0) {
            remarks.push(format!(
                "{student}: two cases have the same order and were taken as they stand in the table"
            ));
        }
        Series {
            student,
            cases: cases.into_iter().map(|(_, case)| case).collect(),
        }
    });
    Ok(Results {
        students: students.collect(),
        has_errors: error_at.is_some(),
        remarks,
    })
}

fn yes_or_no(cell: &str) -> Option<bool> {
    match cell.to_lowercase().as_str() {
        "1" | "1.0" | "yes" | "true" | "pass" | "passed" => Some(true),
        "0" | "0.0" | "no" | "false" | "fail" | "failed" => Some(false),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_put_in_order_by_number_or_date() {
        let table =
            "student;order;error_mm\nB;10;0,7\nB;9;-0,2\nA;2026-02-01;0,1\nA;2026-01-31;0,9\n";
        let results = parse(table, Some(0.5)).expect("a table");
        let passes = |index: usize| -> Vec<bool> {
            results.students[index]
                .cases
                .iter()
                .map(|case| case.passed)
                .collect()
        };
        assert_eq!(
            (passes(0), passes(1)),
            (vec![false, true], vec![true, false])
        );
        assert_eq!(results.students[1].cases[0].error_mm, Some(-0.2));
        assert!(results.has_errors && results.remarks.is_empty());
    }

    #[test]
    fn faults_are_named_by_line_and_student() {
        let fault = |text: &str, limit| parse(text, limit).expect_err("refused").to_string();
        assert!(fault("name,order,passed\na,1,1\n", None).contains("no column \"student\""));
        assert!(fault("student,order\na,1\n", None).contains("no column \"passed\""));
        assert!(fault("student,order,error_mm\na,1,0.2\n", None).contains("--limit-mm"));
        let odd = fault("student,order,passed\na,1,1\na,2,maybe\n", None);
        assert!(
            odd.contains("line 3 (student a): passed \"maybe\""),
            "{odd}"
        );
        assert!(fault("student,order,passed\n,1,1\n", None).contains("line 2: no student"));
        assert!(fault("student,order,passed\n", None).contains("no results"));
        let twice = parse("student,order,passed\na,1,1\na,1,0\n", None).expect("a table");
        assert!(twice.remarks[0].contains("same order"));
    }
}
