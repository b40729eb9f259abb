//! A minimal Digital Intra-Oral X-Ray object (PS3.3 A.28) for phantom films.
//!
//! A phantom stands for a tooth seen from the cheek or lip with its apex down;
//! an object without tooth and side would not conform.

use std::path::Path;

use dicom_core::value::DataSetSequence;
use dicom_core::{DataElement, PrimitiveValue, Tag, VR, dicom_value};
use dicom_dictionary_std::{tags, uids};
use dicom_object::meta::FileMetaTableBuilder;
use dicom_object::{FileDicomObject, InMemDicomObject};
use sha2::{Digest, Sha256};

use super::tooth_codes::tooth_code;
use crate::atomic_file;
use crate::film::fault::{FilmError, FilmFault};
use crate::film::{Film, Polarity};
use crate::tooth::ToothNumber;

/// What the object says besides pixels. There is no person in it: patient
/// and study are those of a phantom.
#[derive(Clone, Debug, PartialEq)]
pub struct IntraOralFilm {
    /// Imager Pixel Spacing `[row, column]`, mm at the detector.
    pub imager_pixel_spacing_mm: [f64; 2],
    /// Distance Source to Detector (SID), mm.
    pub source_to_detector_mm: Option<f64>,
    /// Distance Source to Patient (SOD), mm.
    pub source_to_patient_mm: Option<f64>,
    /// Estimated Radiographic Magnification Factor.
    pub estimated_magnification: Option<f64>,
    /// The tooth it stands for.
    pub tooth: ToothNumber,
    /// Patient ID and Patient's Name of the phantom.
    pub phantom_name: String,
    /// Decides all UIDs together with the samples' own digest.
    pub seed: u64,
}

/// Writes `film` as Digital Intra-Oral X-Ray Image Storage – For
/// Presentation, Explicit VR Little Endian. The same film, facts and seed
/// give the same bytes.
///
/// # Errors
/// When the file cannot be written.
pub fn write_intra_oral(path: &Path, film: &Film, facts: &IntraOralFilm) -> Result<(), FilmError> {
    build(film, facts)
        .and_then(|object| {
            let mut bytes = Vec::new();
            object
                .write_all(&mut bytes)
                .map_err(|e| FilmFault::damaged("DICOM", e))?;
            atomic_file::write(path, &bytes).map_err(FilmFault::Unwritten)
        })
        .map_err(|fault| FilmError::new(path, fault))
}

/// A UID under 2.25 (PS3.5 B.2): the decimal form of 128 bits of SHA-256 over
/// `parts`, so that equal content has equal identifiers.
pub fn derived_uid(parts: &[&[u8]]) -> String {
    let mut hasher = Sha256::new();
    for part in parts {
        hasher.update((part.len() as u64).to_le_bytes());
        hasher.update(part);
    }
    let digest = hasher.finalize();
    let bits = digest[..16]
        .iter()
        .fold(0_u128, |acc, &byte| acc << 8 | u128::from(byte));
    format!("2.25.{bits}")
}

fn build(
    film: &Film,
    facts: &IntraOralFilm,
) -> Result<FileDicomObject<InMemDicomObject>, FilmFault> {
    let seed = facts.seed.to_le_bytes();
    let samples: Vec<u8> = film
        .samples()
        .iter()
        .flat_map(|s| s.to_le_bytes())
        .collect();
    let uid = |role: &str| derived_uid(&[role.as_bytes(), &seed]);
    let sop_class = uids::DIGITAL_INTRA_ORAL_X_RAY_IMAGE_STORAGE_FOR_PRESENTATION;
    let sop_instance = derived_uid(&[b"instance", &seed, &samples]);

    let mut object = InMemDicomObject::new_empty();
    let mut put = |tag: Tag, vr: VR, value: &str| {
        object.put(DataElement::new(tag, vr, PrimitiveValue::from(value)));
    };
    // SOP Common, General Study and Series, Patient, DX and Intra-oral Series.
    put(tags::SPECIFIC_CHARACTER_SET, VR::CS, "ISO_IR 192");
    put(tags::IMAGE_TYPE, VR::CS, "DERIVED\\PRIMARY\\");
    put(tags::SOP_CLASS_UID, VR::UI, sop_class);
    put(tags::SOP_INSTANCE_UID, VR::UI, &sop_instance);
    put(tags::STUDY_DATE, VR::DA, "");
    put(tags::STUDY_TIME, VR::TM, "");
    put(tags::ACQUISITION_DATE, VR::DA, "");
    put(tags::ACQUISITION_TIME, VR::TM, "");
    put(tags::ACCESSION_NUMBER, VR::SH, "");
    put(tags::MODALITY, VR::CS, "IO");
    put(tags::PRESENTATION_INTENT_TYPE, VR::CS, "FOR PRESENTATION");
    put(tags::MANUFACTURER, VR::LO, "Lengthfilm phantom");
    put(tags::REFERRING_PHYSICIAN_NAME, VR::PN, "");
    put(tags::PATIENT_NAME, VR::PN, &facts.phantom_name);
    put(tags::PATIENT_ID, VR::LO, &facts.phantom_name);
    put(tags::PATIENT_BIRTH_DATE, VR::DA, "");
    put(tags::PATIENT_SEX, VR::CS, "");
    put(tags::STUDY_INSTANCE_UID, VR::UI, &uid("study"));
    put(tags::SERIES_INSTANCE_UID, VR::UI, &uid("series"));
    put(tags::STUDY_ID, VR::SH, "1");
    put(tags::SERIES_NUMBER, VR::IS, "1");
    put(tags::INSTANCE_NUMBER, VR::IS, "1");
    put(tags::PATIENT_ORIENTATION, VR::CS, orientation(facts.tooth));
    let side = if is_right(facts.tooth) { "R" } else { "L" };
    put(tags::IMAGE_LATERALITY, VR::CS, side);
    // DX Detector: pitch at the front plane.
    put(tags::DETECTOR_TYPE, VR::CS, "");
    put(
        tags::IMAGER_PIXEL_SPACING,
        VR::DS,
        &decimal_strings(&facts.imager_pixel_spacing_mm)?,
    );
    let distances = [
        (
            tags::DISTANCE_SOURCE_TO_DETECTOR,
            facts.source_to_detector_mm,
        ),
        (tags::DISTANCE_SOURCE_TO_PATIENT, facts.source_to_patient_mm),
        (
            tags::ESTIMATED_RADIOGRAPHIC_MAGNIFICATION_FACTOR,
            facts.estimated_magnification,
        ),
    ];
    for (tag, value) in distances {
        if let Some(value) = value {
            put(tag, VR::DS, &decimal_strings(&[value])?);
        }
    }
    put(tags::POSITIONER_TYPE, VR::CS, "NONE");
    // DX Image: samples stand in the order they are to be shown in.
    put(tags::PIXEL_INTENSITY_RELATIONSHIP, VR::CS, "LOG");
    put(tags::RESCALE_INTERCEPT, VR::DS, "0");
    put(tags::RESCALE_SLOPE, VR::DS, "1");
    put(tags::RESCALE_TYPE, VR::LO, "US");
    let (photometric, lut_shape, sign) = match film.polarity() {
        Polarity::HighIsOpaque => ("MONOCHROME2", "IDENTITY", -1),
        Polarity::LowIsOpaque => ("MONOCHROME1", "INVERSE", 1),
    };
    put(tags::PRESENTATION_LUT_SHAPE, VR::CS, lut_shape);
    put(tags::LOSSY_IMAGE_COMPRESSION, VR::CS, "00");
    put(tags::BURNED_IN_ANNOTATION, VR::CS, "NO");
    let half = f64::from(film.max_sample()).mul_add(0.5, 0.5);
    put(tags::WINDOW_CENTER, VR::DS, &decimal_strings(&[half])?);
    put(tags::WINDOW_WIDTH, VR::DS, &decimal_strings(&[2.0 * half])?);
    put(tags::PHOTOMETRIC_INTERPRETATION, VR::CS, photometric);

    object.put(DataElement::new(
        tags::PIXEL_INTENSITY_RELATIONSHIP_SIGN,
        VR::SS,
        dicom_value!(I16, [sign]),
    ));
    let bits = u16::from(film.bits_stored());
    let words = [
        (tags::SAMPLES_PER_PIXEL, 1),
        (tags::ROWS, dimension("Rows", film.height_px())?),
        (tags::COLUMNS, dimension("Columns", film.width_px())?),
        (tags::BITS_ALLOCATED, 16),
        (tags::BITS_STORED, bits),
        (tags::HIGH_BIT, bits - 1),
        (tags::PIXEL_REPRESENTATION, 0),
    ];
    for (tag, word) in words {
        object.put(DataElement::new(tag, VR::US, dicom_value!(U16, [word])));
    }
    let sequences = [
        (tags::ACQUISITION_CONTEXT_SEQUENCE, vec![]),
        // CID 4016: MEM-H; CID 4018: SEEN (PS3.16).
        (
            tags::ANATOMIC_REGION_SEQUENCE,
            vec![match facts.tooth.is_maxillary() {
                true => code("70925003", "SCT", "Maxilla"),
                false => code("91609006", "SCT", "Mandible"),
            }],
        ),
        (
            tags::PRIMARY_ANATOMIC_STRUCTURE_SEQUENCE,
            tooth_code(facts.tooth.fdi())
                .map(|(value, meaning)| code(value, "SCT", meaning))
                .into_iter()
                .collect(),
        ),
    ];
    for (tag, items) in sequences {
        object.put(DataElement::new(tag, VR::SQ, DataSetSequence::from(items)));
    }
    object.put(DataElement::new(
        tags::PIXEL_DATA,
        VR::OW,
        PrimitiveValue::U16(film.samples().into()),
    ));

    let meta = FileMetaTableBuilder::new()
        .media_storage_sop_class_uid(sop_class)
        .media_storage_sop_instance_uid(sop_instance)
        .transfer_syntax(uids::EXPLICIT_VR_LITTLE_ENDIAN)
        .implementation_class_uid(derived_uid(&[b"lengthfilm implementation"]))
        .implementation_version_name("LENGTHFILM");
    object
        .with_meta(meta)
        .map_err(|e| FilmFault::damaged("DICOM", e))
}

/// A tooth of the patient's right side.
fn is_right(tooth: ToothNumber) -> bool {
    matches!(tooth.fdi() / 10, 1 | 4 | 5 | 8)
}

/// Where rows and columns run (PS3.3 C.7.6.1.1.1), seen from the cheek or lip
/// with the apex down: front teeth to the patient's left, others to the back
/// on the left side and to the front on the right.
fn orientation(tooth: ToothNumber) -> &'static str {
    let is_front = tooth.fdi() % 10 <= 3;
    match (is_front, is_right(tooth), tooth.is_maxillary()) {
        (true, _, false) => "L\\F",
        (true, _, true) => "L\\H",
        (false, true, false) => "A\\F",
        (false, true, true) => "A\\H",
        (false, false, false) => "P\\F",
        (false, false, true) => "P\\H",
    }
}

/// A coded concept (PS3.3 8.8).
fn code(value: &str, scheme: &str, meaning: &str) -> InMemDicomObject {
    let text = |tag, vr, value: &str| DataElement::new(tag, vr, PrimitiveValue::from(value));
    InMemDicomObject::from_element_iter([
        text(tags::CODE_VALUE, VR::SH, value),
        text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, scheme),
        text(tags::CODE_MEANING, VR::LO, meaning),
    ])
}

fn dimension(attribute: &'static str, size_px: u32) -> Result<u16, FilmFault> {
    u16::try_from(size_px).map_err(|_| FilmFault::Attribute {
        attribute,
        problem: format!("{size_px}, more than DICOM can hold"),
    })
}

/// Decimal strings of at most 16 characters each (PS3.5 6.2), joined.
///
/// # Errors
/// A number that is not finite.
pub fn decimal_strings(values: &[f64]) -> Result<String, FilmFault> {
    let strings: Option<Vec<String>> = values
        .iter()
        .map(|value| {
            (0..=14)
                .rev()
                .map(|digits| {
                    let fixed = format!("{value:.digits$}");
                    if fixed.contains('.') {
                        fixed.trim_end_matches('0').trim_end_matches('.').to_owned()
                    } else {
                        fixed
                    }
                })
                .find(|string| string.len() <= 16)
                .filter(|_| value.is_finite())
        })
        .collect();
    strings
        .map(|strings| strings.join("\\"))
        .ok_or_else(|| FilmFault::Attribute {
            attribute: "decimal string",
            problem: "not a finite number".to_owned(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_strings_fit_sixteen_characters() {
        let thirds = decimal_strings(&[1.0 / 3.0, 0.025]).unwrap();
        assert_eq!(thirds, "0.33333333333333\\0.025");
        assert_eq!(decimal_strings(&[330.0]).unwrap(), "330");
        assert!(decimal_strings(&[f64::NAN]).is_err());
    }

    #[test]
    fn derived_uids_are_valid_and_depend_on_every_part() {
        let uid = derived_uid(&[b"a", b"b"]);
        assert!(uid.len() <= 64 && uid.starts_with("2.25."));
        assert!(uid[5..].bytes().all(|b| b.is_ascii_digit()));
        assert_ne!(uid, derived_uid(&[b"ab", b""]));
    }
}
