//! The record of one comparison: picture, table, plots and findings as PDF,
//! HTML, CSV or a DICOM structured report.

mod picture;
mod plot;
mod sheet;
mod sheets;

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::film::OpenedFilm;
use crate::report;
use crate::shaping::{self, Comparison};

pub use sheet::{graded_sheet, sheet};
pub use sheets::PairSheets;

/// Why a record was not made.
#[derive(Debug, Error)]
pub enum RecordError {
    /// The ending names no kind of record.
    #[error("{path}: the ending must be .pdf, .html, .csv or .dcm")]
    UnknownEnding { path: PathBuf },
    /// A DICOM record names the patient, which was not asked for.
    #[error(
        "{path}: a DICOM record names both films by their UIDs, and with them the patient; give --identity"
    )]
    NamesPatient { path: PathBuf },
    /// The record could not be made.
    #[error("{path}: {reason}")]
    NotMade { path: PathBuf, reason: String },
}

/// The bytes of a record, its kind by the ending of `out`. A DICOM record holds
/// the patient's identity; without `include_identity` none is made.
///
/// # Errors
/// [`RecordError`].
pub fn bytes(
    comparison: &Comparison,
    films: &[OpenedFilm; 2],
    out: &Path,
    include_identity: bool,
) -> Result<Vec<u8>, RecordError> {
    let not_made = |reason| RecordError::NotMade {
        path: out.to_owned(),
        reason,
    };
    let ending = out.extension().and_then(|e| e.to_str()).unwrap_or("");
    match ending.to_ascii_lowercase().as_str() {
        "csv" => Ok(shaping::csv(&comparison.findings)),
        "html" | "htm" => Ok(report::html_page(&sheet(comparison, films)).into_bytes()),
        "pdf" => report::pdf_bytes(&sheet(comparison, films)).map_err(not_made),
        "dcm" if !include_identity => Err(RecordError::NamesPatient {
            path: out.to_owned(),
        }),
        "dcm" => {
            let findings = &comparison.findings;
            let cases = [&findings.before, &findings.after].map(|name| Path::new(name.as_str()));
            report::shaping_structured_report(comparison, cases, films).map_err(not_made)
        }
        _ => Err(RecordError::UnknownEnding {
            path: out.to_owned(),
        }),
    }
}
