//! Findings as a DICOM Comprehensive SR on TID 1500, with a Secondary Capture
//! of the film where it has no DICOM instance to refer to.

mod codes;
pub mod companion;
mod header;
mod in_space;
mod measurements;
mod secondary_capture;
mod structured_report;
mod tree;

use dicom_core::{DicomValue, PrimitiveValue, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;

use super::measured_case::MeasuredCase;
use crate::film::dicom::write::derived_uid;
use header::Header;
use tree::{FilmInstance, text};

/// The files of one export.
pub struct Export {
    /// The structured report.
    pub report: Vec<u8>,
    /// The film as a Secondary Capture, for a film without a DICOM instance.
    pub film: Option<Vec<u8>>,
}

/// Makes the structured report of a measured.
///
/// Without `include_identity`, patient and study stay unnamed: the film is
/// referred to by its SOP instance alone, study and series by pseudonyms
/// derived from it.
///
/// # Errors
/// What the DICOM library refuses, in words.
pub fn export(measured: &MeasuredCase, include_identity: bool) -> Result<Export, String> {
    let header = Header::new(measured, include_identity);
    match film_instance(measured, &header) {
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

/// The film's own instance, if it has one.
fn film_instance(measured: &MeasuredCase, header: &Header) -> Option<FilmInstance> {
    let instance = measured.film.instance.as_ref()?;
    Some(FilmInstance {
        sop_class_uid: instance.sop_class_uid.clone()?,
        sop_instance_uid: instance.sop_instance_uid.clone()?,
        study_instance_uid: header.study_instance_uid.clone(),
        series_instance_uid: header.film_series_uid.clone(),
    })
}

/// Latin-1 where the text allows it, since many readers know nothing else;
/// UTF-8 otherwise (PS3.3 C.12.1.1.2).
fn specific_character_set(object: &InMemDicomObject) -> &'static str {
    if is_latin_1(object) {
        "ISO_IR 100"
    } else {
        "ISO_IR 192"
    }
}

fn is_latin_1(object: &InMemDicomObject) -> bool {
    object.iter().all(|element| match element.value() {
        DicomValue::Sequence(sequence) => sequence.items().iter().all(is_latin_1),
        DicomValue::Primitive(PrimitiveValue::Str(text)) => {
            text.chars().all(|c| u32::from(c) <= 0xFF)
        }
        _ => true,
    })
}

/// A Part 10 file of a data set.
fn part_10(
    mut object: InMemDicomObject,
    sop_class: &str,
    sop_instance: &str,
) -> Result<Vec<u8>, String> {
    let character_set = specific_character_set(&object);
    object.put(text(tags::SPECIFIC_CHARACTER_SET, VR::CS, character_set));
    object.put(text(tags::SOP_CLASS_UID, VR::UI, sop_class));
    object.put(text(tags::SOP_INSTANCE_UID, VR::UI, sop_instance));
    let meta = dicom_object::meta::FileMetaTableBuilder::new()
        .media_storage_sop_class_uid(sop_class)
        .media_storage_sop_instance_uid(sop_instance)
        .transfer_syntax(uids::EXPLICIT_VR_LITTLE_ENDIAN)
        .implementation_class_uid(derived_uid(&[b"lengthfilm implementation"]))
        .implementation_version_name("LENGTHFILM");
    let mut bytes = Vec::new();
    object
        .with_meta(meta)
        .map_err(|e| e.to_string())?
        .write_all(&mut bytes)
        .map_err(|e| e.to_string())?;
    Ok(bytes)
}
