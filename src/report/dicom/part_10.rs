//! A data set as a DICOM file (PS3.10).

use dicom_core::{DicomValue, PrimitiveValue, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;

use super::elements::text;
use crate::film::dicom::write::derived_uid;

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
pub fn bytes(
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
