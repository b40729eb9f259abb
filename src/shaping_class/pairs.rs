//! The table that says which pictures belong together.

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::phantom::block::{BlockSpec, Scan};
use crate::spreadsheet::{line_of, separator};

/// A block of an exercise set.
#[derive(Clone, Debug, PartialEq)]
pub struct ExerciseBlock {
    /// Its name in the set.
    pub name: String,
    /// What it truly is.
    pub spec: BlockSpec,
    /// The pictures before and after, from the set's own folder.
    pub films: [PathBuf; 2],
    /// How the block lies on them.
    pub scans: [Scan; 2],
}

/// One pair of cases.
#[derive(Clone, Debug, PartialEq)]
pub struct PairRow {
    pub before: PathBuf,
    pub after: PathBuf,
    /// As the table names them; else the case says who.
    pub student: Option<String>,
    pub group: Option<String>,
    /// The block, where the pair belongs to an exercise set.
    pub block: Option<ExerciseBlock>,
}

/// Why a table of pairs cannot be used.
#[derive(Debug, Error, PartialEq)]
pub enum PairsError {
    #[error(
        "the table has no column \"{0}\"; its first line must name before and after, and may name \
         student and group"
    )]
    NoColumn(&'static str),
    #[error("the table has no pairs below its heading")]
    Empty,
    #[error("line {line}: no case under \"{column}\"")]
    NoCase { line: usize, column: &'static str },
    #[error("the table names {0} pairs; at most {MAX_PAIRS} are graded at once")]
    TooMany(usize),
    #[error("the table is not readable as CSV: {0}")]
    Csv(String),
}

/// Most pairs of a class (our own limit).
pub const MAX_PAIRS: usize = 2000;

/// Reads a table with the columns `before`, `after` and, if wanted, `student`
/// and `group`. Paths start at `folder`.
///
/// # Errors
/// [`PairsError`], which names the line.
pub fn read_pairs(text: &str, folder: &Path) -> Result<Vec<PairRow>, PairsError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator(text))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let unreadable = |e: csv::Error| PairsError::Csv(e.to_string());
    let headings = reader.headers().map_err(unreadable)?.clone();
    let column = |name: &str| headings.iter().position(|h| h.eq_ignore_ascii_case(name));
    let before_at = column("before").ok_or(PairsError::NoColumn("before"))?;
    let after_at = column("after").ok_or(PairsError::NoColumn("after"))?;
    let (student_at, group_at) = (column("student"), column("group"));
    let mut pairs = Vec::new();
    for record in reader.records() {
        let record = record.map_err(unreadable)?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let line = line_of(text, &record);
        let cell = |at: usize| record.get(at).filter(|cell| !cell.is_empty());
        let named = |at: Option<usize>| at.and_then(cell).map(str::to_owned);
        let case = |at: usize, column| {
            let path = cell(at).ok_or(PairsError::NoCase { line, column })?;
            Ok(folder.join(path))
        };
        pairs.push(PairRow {
            block: None,
            before: case(before_at, "before")?,
            after: case(after_at, "after")?,
            student: named(student_at),
            group: named(group_at),
        });
    }
    match pairs.len() {
        0 => Err(PairsError::Empty),
        1..=MAX_PAIRS => Ok(pairs),
        count => Err(PairsError::TooMany(count)),
    }
}
