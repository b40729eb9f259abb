//! Subjects × raters tables from CSV text.
//!
//! The first line names the columns; a first line of numbers alone is read as
//! ratings. Fields are separated by commas, semicolons or tabs (whichever the
//! first line uses); with semicolons or tabs a decimal comma is read too. One
//! column may name the subjects; every other column is one rater.

use std::collections::{BTreeMap, BTreeSet};

use super::rows::{Row, has_quoted_commas, read_rows};
use super::subject_column::first_column_names_subjects;
use super::table_error::MOST_RATERS;
pub use super::table_error::TableError;
use crate::spreadsheet::parse_number;

/// A complete table: one row per subject, one column per rater.
#[derive(Clone, Debug, PartialEq)]
pub struct RatingTable {
    /// Heading of the column that names the subjects, when there is one.
    pub subject_heading: Option<String>,
    /// Subject names, or 1, 2, 3 … when the table has none.
    pub subjects: Vec<String>,
    /// Headings of the rater columns.
    pub raters: Vec<String>,
    /// All ratings.
    pub ratings: Ratings,
    /// What the reader had to guess, in plain words.
    pub remarks: Vec<String>,
}

/// Ratings, `[subject][rater]`.
#[derive(Clone, Debug, PartialEq)]
pub enum Ratings {
    /// Every cell is a finite number.
    Numbers(Vec<Vec<f64>>),
    /// Every cell is the name of a class.
    Classes(Vec<Vec<String>>),
}

/// Which column names the subjects.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum SubjectColumn {
    /// The first, if its heading or content says so.
    #[default]
    Detect,
    /// The first.
    First,
    /// That of this heading.
    Named(String),
    /// There is none: every column is a rater.
    None,
}

/// What to do with a subject that not every rater has rated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Gaps {
    /// Refuse the table and name the place.
    #[default]
    Refuse,
    /// Leave the subject out and say how many.
    LeaveOut,
}

/// How to read the cells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CellKind {
    /// Numbers when all are numbers, classes when none is.
    #[default]
    Detect,
    /// Numbers, anything else is an error.
    Numbers,
    /// Class names, even when they look like numbers.
    Classes,
}

/// Settings of [`RatingTable::parse`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TableSettings {
    pub subject_column: SubjectColumn,
    pub cell_kind: CellKind,
    pub gaps: Gaps,
}

/// Cell texts that mean "no rating".
const MISSING_CELLS: [&str; 5] = ["", "na", "n/a", "nan", "null"];

impl RatingTable {
    /// Reads a table from the text of a CSV file (UTF-8, byte order mark
    /// allowed).
    ///
    /// # Errors
    /// [`TableError`], which names line and column.
    pub fn parse(text: &str, settings: TableSettings) -> Result<Self, TableError> {
        let (mut headings, mut rows, delimiter) = read_rows(text)?;
        let mut remarks = Vec::new();
        let decimal_comma = delimiter != b',' || has_quoted_commas(&rows);
        if is_headerless(&headings, decimal_comma) {
            remarks.push(
                "the first line holds numbers and was read as ratings; if it names the columns, give them names that are no numbers".to_owned(),
            );
            let names = (1..=headings.len()).map(|column| format!("column {column}"));
            let cells = std::mem::replace(&mut headings, names.collect());
            rows.insert(0, Row { line: 1, cells });
        }
        if rows.is_empty() {
            return Err(TableError::NoSubjects);
        }
        let subject_at = match &settings.subject_column {
            SubjectColumn::First => Some(0),
            SubjectColumn::None => None,
            SubjectColumn::Named(wanted) => {
                let is_wanted =
                    |heading: &String| heading.to_lowercase() == wanted.trim().to_lowercase();
                let at = headings.iter().position(is_wanted);
                Some(at.ok_or_else(|| TableError::NoSuchColumn {
                    wanted: wanted.clone(),
                    found: headings.join(", "),
                })?)
            }
            SubjectColumn::Detect => {
                first_column_names_subjects(&headings, &rows, decimal_comma, &mut remarks)
                    .then_some(0)
            }
        };
        let subject_heading = subject_at.map(|at| headings.remove(at));
        let mut subjects: Vec<String> = rows
            .iter_mut()
            .enumerate()
            .map(|(i, row)| match subject_at {
                Some(at) => row.cells.remove(at),
                None => (i + 1).to_string(),
            })
            .collect();
        let raters = headings;
        if raters.is_empty() {
            return Err(TableError::NoRaters);
        }
        if raters.len() > MOST_RATERS {
            return Err(TableError::TooManyRaters {
                found: raters.len(),
            });
        }
        if let Some(unnamed) = raters.iter().position(String::is_empty) {
            let before = usize::from(subject_at.is_some_and(|at| at <= unnamed));
            return Err(TableError::NoHeading {
                what: "rater",
                column: unnamed + before + 1,
            });
        }
        let mut seen = BTreeSet::new();
        if let Some(twice) = raters.iter().find(|name| !seen.insert(name.as_str())) {
            return Err(TableError::DuplicateHeading(twice.clone()));
        }
        if settings.gaps == Gaps::LeaveOut {
            let all = rows.len();
            let mut complete = rows
                .iter()
                .map(|row| !row.cells.iter().any(|c| is_missing(c)));
            let complete: Vec<bool> = complete.by_ref().collect();
            let mut keep = complete.iter();
            rows.retain(|_| keep.next().copied().unwrap_or(false));
            let mut keep = complete.iter();
            subjects.retain(|_| keep.next().copied().unwrap_or(false));
            if rows.is_empty() {
                return Err(TableError::NoneComplete);
            }
            if rows.len() < all {
                remarks.push(format!(
                    "{} of {all} subjects are complete; the others were left out",
                    rows.len()
                ));
            }
        }

        let cells = CellReader {
            rows: &rows,
            subjects: &subjects,
            raters: &raters,
            decimal_comma,
        };
        cells.refuse_missing()?;
        let as_classes = match settings.cell_kind {
            CellKind::Classes => true,
            CellKind::Numbers => false,
            CellKind::Detect => !cells.any_number(),
        };
        let ratings = if as_classes {
            Ratings::Classes(one_spelling(cells.classes(), &mut remarks))
        } else {
            Ratings::Numbers(cells.numbers()?)
        };
        Ok(Self {
            subject_heading,
            subjects,
            raters,
            ratings,
            remarks,
        })
    }
}

/// The first line holds ratings: numbers all, but not the raters' own numbers
/// 1, 2, 3 …
fn is_headerless(headings: &[String], decimal_comma: bool) -> bool {
    let numbers: Vec<f64> = headings
        .iter()
        .map_while(|cell| parse_number(cell, decimal_comma))
        .collect();
    let counts_up = numbers
        .iter()
        .enumerate()
        .all(|(i, &n)| n == (i + 1) as f64);
    !headings.is_empty() && numbers.len() == headings.len() && !counts_up
}

fn is_missing(cell: &str) -> bool {
    MISSING_CELLS.contains(&cell.to_lowercase().as_str())
}

/// Classes that differ in the case of their letters alone are one; the
/// spelling used most is kept.
fn one_spelling(mut classes: Vec<Vec<String>>, remarks: &mut Vec<String>) -> Vec<Vec<String>> {
    let mut spellings: BTreeMap<String, BTreeMap<String, usize>> = BTreeMap::new();
    for class in classes.iter().flatten() {
        let own = spellings.entry(class.to_lowercase()).or_default();
        *own.entry(class.clone()).or_default() += 1;
    }
    let mut kept = BTreeMap::new();
    for (lower, own) in &spellings {
        if let Some((most, _)) = own.iter().max_by_key(|(_, count)| **count) {
            if own.len() > 1 {
                let names: Vec<String> = own.keys().map(|name| format!("\"{name}\"")).collect();
                remarks.push(format!("{} were taken for one class", names.join(" and ")));
            }
            kept.insert(lower.clone(), most.clone());
        }
    }
    for class in classes.iter_mut().flatten() {
        if let Some(name) = kept.get(&class.to_lowercase()) {
            class.clone_from(name);
        }
    }
    classes
}

/// The rater cells of a table, with what is needed to name one of them.
struct CellReader<'a> {
    rows: &'a [Row],
    subjects: &'a [String],
    raters: &'a [String],
    decimal_comma: bool,
}

impl CellReader<'_> {
    /// Rater cells of one row.
    fn cells(&self, row: usize) -> &[String] {
        &self.rows[row].cells
    }

    fn refuse_missing(&self) -> Result<(), TableError> {
        for row in 0..self.rows.len() {
            if let Some(column) = self.cells(row).iter().position(|cell| is_missing(cell)) {
                return Err(TableError::Missing {
                    line: self.rows[row].line,
                    subject: self.subjects[row].clone(),
                    column: self.raters[column].clone(),
                });
            }
        }
        Ok(())
    }

    fn any_number(&self) -> bool {
        (0..self.rows.len())
            .flat_map(|row| self.cells(row))
            .any(|cell| parse_number(cell, self.decimal_comma).is_some())
    }

    fn classes(&self) -> Vec<Vec<String>> {
        (0..self.rows.len())
            .map(|row| self.cells(row).to_vec())
            .collect()
    }

    fn numbers(&self) -> Result<Vec<Vec<f64>>, TableError> {
        let number = |row: usize, column: usize, cell: &String| {
            parse_number(cell, self.decimal_comma).ok_or_else(|| TableError::NotANumber {
                line: self.rows[row].line,
                subject: self.subjects[row].clone(),
                column: self.raters[column].clone(),
                cell: cell.clone(),
            })
        };
        (0..self.rows.len())
            .map(|row| {
                let cells = self.cells(row).iter().enumerate();
                cells
                    .map(|(column, cell)| number(row, column, cell))
                    .collect()
            })
            .collect()
    }
}
