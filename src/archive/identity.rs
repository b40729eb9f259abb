//! Who a film shows: left out of what is written here, and given back to a
//! record when it goes to the archive that knows.

use dicom_core::header::Header;
use dicom_core::value::Value;
use dicom_core::{Tag, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;
use dicom_object::mem::InMemElement;

use super::dimse;
use super::fault::{ArchiveError, Fault};
use super::find::{StudyEntry, StudyQuery, find_studies};
use super::object::{PartTen, Received, put_text};
use super::settings::Settings;
use super::watch::Watch;

/// Attributes outside the image group that a film keeps: what it is, how it was
/// taken, what tooth it shows. Free text, names, numbers, dates and places are
/// not among them, nor anything private: what is not listed goes.
const KEPT: &[Tag] = &[
    tags::SPECIFIC_CHARACTER_SET,
    tags::IMAGE_TYPE,
    tags::SOP_CLASS_UID,
    tags::SOP_INSTANCE_UID,
    tags::MODALITY,
    tags::CONVERSION_TYPE,
    tags::PRESENTATION_INTENT_TYPE,
    tags::CODE_VALUE,
    tags::CODING_SCHEME_DESIGNATOR,
    tags::CODING_SCHEME_VERSION,
    tags::CODE_MEANING,
    tags::ANATOMIC_REGION_SEQUENCE,
    tags::ANATOMIC_REGION_MODIFIER_SEQUENCE,
    tags::PRIMARY_ANATOMIC_STRUCTURE_SEQUENCE,
    tags::PRIMARY_ANATOMIC_STRUCTURE_MODIFIER_SEQUENCE,
    tags::KVP,
    tags::EXPOSURE_TIME,
    tags::X_RAY_TUBE_CURRENT,
    tags::EXPOSURE,
    tags::EXPOSURE_INU_AS,
    tags::DISTANCE_SOURCE_TO_DETECTOR,
    tags::DISTANCE_SOURCE_TO_PATIENT,
    tags::ESTIMATED_RADIOGRAPHIC_MAGNIFICATION_FACTOR,
    tags::FIELD_OF_VIEW_DIMENSIONS,
    tags::FIELD_OF_VIEW_ORIGIN,
    tags::FIELD_OF_VIEW_ROTATION,
    tags::FIELD_OF_VIEW_HORIZONTAL_FLIP,
    tags::IMAGER_PIXEL_SPACING,
    tags::NOMINAL_SCANNED_PIXEL_SPACING,
    tags::POSITIONER_TYPE,
    tags::POSITIONER_PRIMARY_ANGLE,
    tags::POSITIONER_SECONDARY_ANGLE,
    tags::DETECTOR_TYPE,
    tags::DETECTOR_BINNING,
    tags::DETECTOR_ELEMENT_SPACING,
    tags::DETECTOR_ELEMENT_PHYSICAL_SIZE,
    tags::STUDY_INSTANCE_UID,
    tags::SERIES_INSTANCE_UID,
    tags::SERIES_NUMBER,
    tags::INSTANCE_NUMBER,
    tags::PATIENT_ORIENTATION,
    tags::LATERALITY,
    tags::IMAGE_LATERALITY,
    tags::DEVICE_SEQUENCE,
    tags::DEVICE_LENGTH,
    tags::DEVICE_DIAMETER,
    tags::DEVICE_DIAMETER_UNITS,
    tags::PRESENTATION_LUT_SHAPE,
    tags::PIXEL_DATA,
];

/// Text of the image group that people fill in.
const FREE_TEXT_OF_THE_IMAGE: &[Tag] = &[
    tags::PIXEL_SPACING_CALIBRATION_DESCRIPTION,
    tags::WINDOW_CENTER_WIDTH_EXPLANATION,
    tags::LUT_EXPLANATION,
    Tag(0x0028, 0x4000),
];

fn is_kept(tag: Tag) -> bool {
    let of_the_image = tag.group() == 0x0028 && !FREE_TEXT_OF_THE_IMAGE.contains(&tag);
    of_the_image || KEPT.contains(&tag)
}

/// An object with what is kept alone, in every sequence.
fn reduced(object: InMemDicomObject) -> InMemDicomObject {
    let kept = object.into_iter().filter(|element| is_kept(element.tag()));
    InMemDicomObject::from_element_iter(kept.map(|element| {
        let (tag, vr) = (element.tag(), element.vr());
        match element.into_value() {
            Value::Sequence(items) => {
                let items: Vec<_> = items.into_items().into_iter().map(reduced).collect();
                InMemElement::new(tag, vr, dicom_core::value::DataSetSequence::from(items))
            }
            other => InMemElement::new(tag, vr, other),
        }
    }))
}

/// What every object must have and says whose it is.
const WHOSE: [(Tag, VR); 9] = [
    (tags::PATIENT_NAME, VR::PN),
    (tags::PATIENT_ID, VR::LO),
    (tags::PATIENT_BIRTH_DATE, VR::DA),
    (tags::PATIENT_SEX, VR::CS),
    (tags::STUDY_DATE, VR::DA),
    (tags::STUDY_TIME, VR::TM),
    (tags::STUDY_ID, VR::SH),
    (tags::ACCESSION_NUMBER, VR::SH),
    (tags::REFERRING_PHYSICIAN_NAME, VR::PN),
];

fn blank_identity(object: &mut InMemDicomObject) {
    for (tag, vr) in WHOSE {
        put_text(object, tag, vr, "");
    }
}

/// A film as a file without whose it is, and whether writing is said to be
/// burned into its picture, which no tool can leave out.
///
/// The UIDs stay: a record made from the film refers to it by them, and they
/// mean something only to the archive.
pub(super) fn without(received: &Received) -> Result<(Vec<u8>, bool), Fault> {
    let object = dimse::decode(&received.data, &received.transfer_syntax_uid)?;
    let burned_in = dimse::string(&object, tags::BURNED_IN_ANNOTATION).as_deref() == Some("YES");
    let mut object = reduced(object);
    blank_identity(&mut object);
    put_text(&mut object, tags::PATIENT_IDENTITY_REMOVED, VR::CS, "YES");
    let method = "Lengthfilm: image and exposure kept, UIDs kept, rest left out";
    put_text(&mut object, tags::DEIDENTIFICATION_METHOD, VR::LO, method);
    // What was deflated is inflated now.
    let syntax = match received.transfer_syntax_uid.as_str() {
        uids::DEFLATED_EXPLICIT_VR_LITTLE_ENDIAN => uids::EXPLICIT_VR_LITTLE_ENDIAN,
        other => other,
    };
    let bare = Received {
        sop_class_uid: received.sop_class_uid.clone(),
        sop_instance_uid: received.sop_instance_uid.clone(),
        transfer_syntax_uid: syntax.to_owned(),
        data: dimse::encode(&object, syntax)?,
    };
    Ok((bare.as_file()?, burned_in))
}

/// A record without patient's number gets patient and study as the archive has
/// them for its study, so that it is filed where it belongs. What names a
/// patient already, or a study the archive does not have, stays as it is; the
/// flag says which.
///
/// Only in memory: nothing of it is written here.
pub(super) fn complete(
    settings: &Settings,
    part: PartTen,
    watch: &Watch,
) -> Result<(PartTen, bool), ArchiveError> {
    let failed = |fault| ArchiveError::new(&settings.at, fault);
    let mut object = part.object().map_err(failed)?;
    let Some(study_uid) = part.study_instance_uid.clone() else {
        return Ok((part, false));
    };
    if dimse::string(&object, tags::PATIENT_ID).is_some() {
        return Ok((part, true));
    }
    let query = StudyQuery {
        study_instance_uid: study_uid.clone(),
        ..StudyQuery::default()
    };
    let mut found: Option<StudyEntry> = None;
    find_studies(
        settings,
        &query,
        &mut |study| {
            if study.study_instance_uid == study_uid {
                found = Some(study);
            }
            found.is_none()
        },
        watch,
    )?;
    let Some(study) = found else {
        return Ok((part, false));
    };
    let compact = |date: &Option<String>| date.as_ref().map(|date| date.replace('-', ""));
    let study_date = compact(&study.study_date);
    for (tag, vr, value) in [
        (tags::PATIENT_NAME, VR::PN, &study.patient_name),
        (tags::PATIENT_ID, VR::LO, &study.patient_id),
        (tags::PATIENT_BIRTH_DATE, VR::DA, &study.patient_birth_date),
        (tags::PATIENT_SEX, VR::CS, &study.patient_sex),
        (tags::STUDY_DATE, VR::DA, &study_date),
        (tags::STUDY_TIME, VR::TM, &study.study_time),
        (tags::STUDY_ID, VR::SH, &study.study_id),
        (tags::ACCESSION_NUMBER, VR::SH, &study.accession_number),
        (
            tags::REFERRING_PHYSICIAN_NAME,
            VR::PN,
            &study.referring_physician,
        ),
    ] {
        put_text(&mut object, tag, vr, value.as_deref().unwrap_or_default());
    }
    object.remove_element(tags::PATIENT_IDENTITY_REMOVED);
    object.remove_element(tags::DEIDENTIFICATION_METHOD);
    object.convert_to_utf8();
    let rewritten = part
        .rewritten(&object, uids::EXPLICIT_VR_LITTLE_ENDIAN)
        .map_err(failed)?;
    Ok((rewritten, true))
}

/// The same record without whose it is, for keeping it here until it can be
/// sent: patient and study dates go, UIDs and findings stay.
///
/// # Errors
/// A file that is no DICOM object.
pub(super) fn record_without(part: &PartTen) -> Result<PartTen, Fault> {
    let mut object = part.object()?;
    blank_identity(&mut object);
    for tag in [
        // Other Patient IDs, retired and still met.
        Tag(0x0010, 0x1000),
        tags::OTHER_PATIENT_NAMES,
        tags::PATIENT_ADDRESS,
        tags::PATIENT_TELEPHONE_NUMBERS,
        tags::PATIENT_COMMENTS,
        tags::INSTITUTION_NAME,
        tags::PERFORMING_PHYSICIAN_NAME,
        tags::OPERATORS_NAME,
    ] {
        object.remove_element(tag);
    }
    part.rewritten(&object, &part.transfer_syntax_uid)
}
