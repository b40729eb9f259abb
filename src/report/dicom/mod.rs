//! Findings as a DICOM Comprehensive SR on TID 1500, with a Secondary Capture
//! of the film where it has no DICOM instance to refer to.

mod codes;
pub mod companion;
mod elements;
mod header;
mod in_space;
mod measurements;
mod part_10;
mod secondary_capture;
mod shaping;
mod structured_report;
mod tree;

use super::measured_case::MeasuredCase;
use crate::shaping::ShapingFindings;
use header::Header;

/// The files of one export.
pub struct Export {
    /// The structured report.
    pub report: Vec<u8>,
    /// The film as a Secondary Capture, for a film without a DICOM instance that
    /// may be referred to.
    pub film: Option<Vec<u8>>,
}

/// Makes the structured report of a measured case.
///
/// Without `include_identity`, patient and study stay unnamed and every UID is
/// one of its own, the same throughout the export (PS3.15 E.1.1): the report
/// then refers to a capture of the film written beside it, since the film's own
/// instance UID leads to its patient.
///
/// # Errors
/// What the DICOM library refuses, in words.
pub fn export(measured: &MeasuredCase, include_identity: bool) -> Result<Export, String> {
    let header = Header::new(measured, include_identity);
    let own = header.film_instance(measured).filter(|_| include_identity);
    match own {
        Some(film) => Ok(Export {
            report: structured_report::bytes(measured, &header, &film)?,
            film: None,
        }),
        None => {
            let (capture, film) = secondary_capture::bytes(measured, &header)?;
            Ok(Export {
                report: structured_report::bytes(measured, &header, &film)?,
                film: Some(capture),
            })
        }
    }
}

/// The structured report of a comparison before and after shaping.
///
/// # Errors
/// One line: a film has no DICOM instance, or what the DICOM library refuses.
pub fn shaping_report(
    films: [&MeasuredCase; 2],
    found: &ShapingFindings,
) -> Result<Vec<u8>, String> {
    shaping::bytes(films, found)
}
