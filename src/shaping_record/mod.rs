//! The record of one comparison: picture, table, plots and findings as PDF,
//! HTML or CSV.

mod picture;
mod plot;
mod sheet;

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::film::OpenedFilm;
use crate::report;
use crate::shaping::{self, Comparison};

pub use sheet::{graded_sheet, sheet};

/// Why a record was not made.
#[derive(Debug, Error)]
pub enum RecordError {
    /// The ending names no kind of record.
    #[error("{path}: the ending must be .pdf, .html or .csv")]
    UnknownEnding { path: PathBuf },
    /// The PDF could not be made.
    #[error("{path}: {reason}")]
    Pdf { path: PathBuf, reason: String },
}

/// The bytes of a record, its kind by the ending of `out`.
///
/// # Errors
/// [`RecordError`].
pub fn bytes(
    comparison: &Comparison,
    films: &[OpenedFilm; 2],
    out: &Path,
) -> Result<Vec<u8>, RecordError> {
    let ending = out.extension().and_then(|e| e.to_str()).unwrap_or("");
    match ending.to_ascii_lowercase().as_str() {
        "csv" => Ok(shaping::csv(&comparison.findings)),
        "html" | "htm" => Ok(report::html_page(&sheet(comparison, films)).into_bytes()),
        "pdf" => report::pdf_bytes(&sheet(comparison, films)).map_err(|reason| RecordError::Pdf {
            path: out.to_owned(),
            reason,
        }),
        _ => Err(RecordError::UnknownEnding {
            path: out.to_owned(),
        }),
    }
}
