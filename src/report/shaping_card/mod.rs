//! The shaping card: one page per canal that can lie beside the patient, in
//! large type, as PDF or HTML; and the same as a table.

mod content;
mod csv;
mod html;
mod page;

use std::path::Path;

pub use content::{Card, FILE_HEADINGS, FileRow, cards};

use super::{Existing, ReportError, save};
use crate::instrumentation::InstrumentFindings;

/// Writes the card, its kind named by the ending of `out_path`.
///
/// # Errors
/// [`ReportError`], one line; an existing file is then as it was.
pub fn write(
    findings: &InstrumentFindings,
    out_path: &Path,
    existing: Existing,
) -> Result<(), ReportError> {
    let path = out_path.to_owned();
    let ending = out_path.extension().and_then(|ending| ending.to_str());
    let ending = ending.map(str::to_ascii_lowercase).unwrap_or_default();
    if !matches!(ending.as_str(), "pdf" | "html" | "htm" | "csv") {
        return Err(ReportError::NoCardEnding { path });
    }
    if existing == Existing::Keep && out_path.symlink_metadata().is_ok() {
        return Err(ReportError::Exists { path });
    }
    let bytes = match ending.as_str() {
        "csv" => csv::bytes(findings),
        "pdf" => pdf_bytes(findings).map_err(|reason| ReportError::Content { path, reason })?,
        _ => html_page(findings).into_bytes(),
    };
    save(out_path, &bytes)
}

/// The card as a PDF file: one A4 page per canal.
///
/// # Errors
/// What the PDF library refuses, in words.
pub fn pdf_bytes(findings: &InstrumentFindings) -> Result<Vec<u8>, String> {
    let cards = content::cards(findings);
    let layout = page::set(&cards);
    let title = format!("{}: {}", content::TITLE, findings.case);
    super::pdf::document(&layout, &title, &content::footer(findings))
}

/// The card as one self-contained HTML page.
pub fn html_page(findings: &InstrumentFindings) -> String {
    html::page(&content::cards(findings), &content::footer(findings))
}
