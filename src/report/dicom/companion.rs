//! Which film on disk a structured report refers to.

use std::path::Path;

use dicom_dictionary_std::{tags, uids};
use dicom_object::{DefaultDicomObject, InMemDicomObject, OpenFileOptions};

/// SOP instance of the Secondary Capture the report in a file refers to; `None`
/// for a report on another kind of film, and for any other file.
pub fn captured_instance(report: &Path) -> Option<String> {
    let report = header(report)?;
    let mut item: &InMemDicomObject = &report;
    for tag in [
        tags::CURRENT_REQUESTED_PROCEDURE_EVIDENCE_SEQUENCE,
        tags::REFERENCED_SERIES_SEQUENCE,
        tags::REFERENCED_SOP_SEQUENCE,
    ] {
        item = item.element(tag).ok()?.items()?.first()?;
    }
    let class = uid(item, tags::REFERENCED_SOP_CLASS_UID)?;
    let instance = uid(item, tags::REFERENCED_SOP_INSTANCE_UID)?;
    (class == uids::SECONDARY_CAPTURE_IMAGE_STORAGE).then_some(instance)
}

/// SOP instance of a DICOM file.
pub fn instance(file: &Path) -> Option<String> {
    uid(&*header(file)?, tags::SOP_INSTANCE_UID)
}

/// A data set without its pixels.
fn header(file: &Path) -> Option<DefaultDicomObject> {
    let options = OpenFileOptions::new().read_until(tags::PIXEL_DATA);
    options.open_file(file).ok()
}

fn uid(item: &InMemDicomObject, tag: dicom_core::Tag) -> Option<String> {
    let text = item.element(tag).ok()?.to_str().ok()?;
    Some(text.trim_end_matches(['\0', ' ']).to_owned())
}
