//! A film without a DICOM instance as a Secondary Capture Image (PS3.3 A.8.1),
//! samples as they are.

use dicom_core::{DataElement, PrimitiveValue, VR, dicom_value};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;

use super::elements::text;
use super::header::Header;
use super::part_10;
use super::tree::FilmInstance;
use crate::film::dicom::write::{decimal_strings, derived_uid};
use crate::film::{Polarity, Window};
use crate::report::measured_case::MeasuredCase;

/// The file and the instance it holds.
pub fn bytes(measured: &MeasuredCase, header: &Header) -> Result<(Vec<u8>, FilmInstance), String> {
    let film = &measured.film.film;
    let instance = FilmInstance {
        sop_class_uid: uids::SECONDARY_CAPTURE_IMAGE_STORAGE.to_owned(),
        sop_instance_uid: derived_uid(&[b"lengthfilm film", header.export_key.as_bytes()]),
        study_instance_uid: header.study_instance_uid.clone(),
        series_instance_uid: header.film_series_uid.clone(),
    };
    let mut object = InMemDicomObject::new_empty();
    header.put(&mut object, "IO", &instance.series_instance_uid);
    let photometric = match film.polarity() {
        Polarity::HighIsOpaque => "MONOCHROME2",
        Polarity::LowIsOpaque => "MONOCHROME1",
    };
    for (tag, vr, value) in [
        // Made by a workstation from a picture file (PS3.3 C.8.6.1).
        (tags::CONVERSION_TYPE, VR::CS, "WSD"),
        (tags::SERIES_NUMBER, VR::IS, "1"),
        (tags::PATIENT_ORIENTATION, VR::CS, ""),
        // Not a paired part (PS3.16, annex L), so that it has no laterality.
        (tags::BODY_PART_EXAMINED, VR::CS, "JAW"),
        (tags::PHOTOMETRIC_INTERPRETATION, VR::CS, photometric),
    ] {
        object.put(text(tag, vr, value));
    }
    // A picture file says nothing of it: then the attribute is left out, which
    // means that there may be some (PS3.3 C.7.6.1).
    if let Some(burned_in) = measured.film.facts.burned_in_annotation {
        let value = if burned_in { "YES" } else { "NO" };
        object.put(text(tags::BURNED_IN_ANNOTATION, VR::CS, value));
    }
    if let Some(window) = Window::automatic(film, 0.005, 0.995) {
        let decimal = |x| decimal_strings(&[x]).map_err(|e| format!("{e:?}"));
        object.put(text(tags::WINDOW_CENTER, VR::DS, &decimal(window.center)?));
        object.put(text(tags::WINDOW_WIDTH, VR::DS, &decimal(window.width)?));
    }
    let side = |px: u32| {
        u16::try_from(px).map_err(|_| format!("{px} px is more than a DICOM image can hold"))
    };
    let bits = u16::from(film.bits_stored());
    for (tag, word) in [
        (tags::SAMPLES_PER_PIXEL, 1),
        (tags::ROWS, side(film.height_px())?),
        (tags::COLUMNS, side(film.width_px())?),
        (tags::BITS_ALLOCATED, 16),
        (tags::BITS_STORED, bits),
        (tags::HIGH_BIT, bits - 1),
        (tags::PIXEL_REPRESENTATION, 0),
    ] {
        object.put(DataElement::new(tag, VR::US, dicom_value!(U16, [word])));
    }
    object.put(DataElement::new(
        tags::PIXEL_DATA,
        VR::OW,
        PrimitiveValue::U16(film.samples().into()),
    ));
    let file = part_10::bytes(object, &instance.sop_class_uid, &instance.sop_instance_uid)?;
    Ok((file, instance))
}
