//! Why a table of ratings cannot be read.

use thiserror::Error;

/// Most raters of a table (our own limit): every pair of them is compared.
pub(super) const MOST_RATERS: usize = 100;

/// Why a table cannot be read. Lines count from 1, the heading included.
#[derive(Debug, Error)]
pub enum TableError {
    #[error(
        "the table is empty: the first line must name the columns, one line per subject follows"
    )]
    Empty,
    #[error("the table has a heading but no subjects")]
    NoSubjects,
    #[error("line {line}: {found} cells, the heading has {expected}")]
    Ragged {
        line: usize,
        found: usize,
        expected: usize,
    },
    #[error("{what} column {column} has no heading")]
    NoHeading { what: &'static str, column: usize },
    #[error("two columns are headed \"{0}\": every rater needs a name of its own")]
    DuplicateHeading(String),
    #[error(
        "{found} rater columns are more than the {MOST_RATERS} allowed; are rows and columns exchanged?"
    )]
    TooManyRaters { found: usize },
    #[error("the table has no rater column beside the subjects")]
    NoRaters,
    #[error("the table has no column headed \"{wanted}\"; its columns are {found}")]
    NoSuchColumn { wanted: String, found: String },
    #[error("no subject has been rated by every rater")]
    NoneComplete,
    #[error(
        "line {line} (subject {subject}), column \"{column}\": no rating; every rater must rate every subject, so fill it in leave the subject out, or ask for complete subjects only"
    )]
    Missing {
        line: usize,
        subject: String,
        column: String,
    },
    #[error(
        "line {line} (subject {subject}), column \"{column}\": \"{cell}\" is not a finite number"
    )]
    NotANumber {
        line: usize,
        subject: String,
        column: String,
        cell: String,
    },
    #[error("the table is not readable as CSV: {0}")]
    Csv(#[from] csv::Error),
}
