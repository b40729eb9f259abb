//! What a DICOM film says about itself: scale, windows, identifiers.

use dicom_core::Tag;
use dicom_core::dictionary::UidDictionary;
use dicom_dictionary_std::StandardSopClassDictionary;
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use super::attributes::{decimal, decimals, label, number, text};
use super::data_set::DicomFile;
use super::tooth_codes::tooth_of_code;
use crate::film::Film;
use crate::film::opened::{FilmFacts, FilmFormat, InstanceReference, PatientIdentity};
use crate::film::scale_facts::{
    BELIEVABLE_MAGNIFICATION, BELIEVABLE_PITCH_MM, CalibrationDevice, FilmWarning, ScaleFact,
    ScaleFacts,
};
use crate::film::window::{Window, WindowFunction};
use crate::tooth::{ToothNotation, ToothNumber};

/// Distances from the source that are believed, mm.
const BELIEVABLE_DISTANCE_MM: std::ops::RangeInclusive<f64> = 10.0..=10_000.0;
/// Sizes of calibration objects that are believed, mm.
const BELIEVABLE_OBJECT_MM: std::ops::RangeInclusive<f64> = 0.1..=500.0;

pub(super) fn film_facts(file: &DicomFile, film: &Film, format: FilmFormat) -> FilmFacts {
    let data_set = &file.data_set;
    let photometric =
        label(data_set, tags::PHOTOMETRIC_INTERPRETATION).unwrap_or_else(|| "unknown".to_owned());
    FilmFacts {
        format,
        width_px: film.width_px(),
        height_px: film.height_px(),
        bits_stored: film.bits_stored(),
        photometric,
        orientation_applied: false,
        transfer_syntax: Some((
            file.transfer_syntax.uid().to_owned(),
            file.transfer_syntax.name().to_owned(),
        )),
        acquisition_date: [tags::ACQUISITION_DATE, tags::CONTENT_DATE]
            .into_iter()
            .find_map(|tag| iso_date(&text(data_set, tag)?)),
        modality: label(data_set, tags::MODALITY),
        presentation_lut_shape: label(data_set, tags::PRESENTATION_LUT_SHAPE),
        bits_allocated: number(data_set, tags::BITS_ALLOCATED),
        burned_in_annotation: burned_in_annotation(data_set),
        tooth: tooth(data_set),
        signed: number(data_set, tags::PIXEL_REPRESENTATION) == Some(1),
    }
}

/// The tooth that the film shows, where its header names one in SNOMED CT
/// (PS3.16 CID 4018 and 4019); of several none is meant more than another.
fn tooth(data_set: &InMemDicomObject) -> Option<ToothNumber> {
    let structures = data_set.get(tags::PRIMARY_ANATOMIC_STRUCTURE_SEQUENCE)?;
    let [structure] = structures.items()? else {
        return None;
    };
    let is_snomed = label(structure, tags::CODING_SCHEME_DESIGNATOR)? == "SCT";
    let fdi = tooth_of_code(&label(structure, tags::CODE_VALUE)?).filter(|_| is_snomed)?;
    ToothNumber::parse(ToothNotation::Fdi, &fdi.to_string()).ok()
}

/// Whether the pixels hold enough to identify the patient (PS3.3 C.7.6.1).
fn burned_in_annotation(data_set: &InMemDicomObject) -> Option<bool> {
    match label(data_set, tags::BURNED_IN_ANNOTATION)?.as_str() {
        "YES" => Some(true),
        "NO" => Some(false),
        _ => None,
    }
}

/// What is to be said of pixels that name somebody.
pub(super) fn burned_in_warning(data_set: &InMemDicomObject) -> Option<FilmWarning> {
    burned_in_annotation(data_set)?.then(|| {
        FilmWarning::new(
            "burned_in_annotation",
            "the film says that its pixels identify the patient (Burned In Annotation YES): \
             every picture and record that shows it does so too",
        )
    })
}

/// `2026-03-14` from a DA value (`20260314`, in old files `2026.03.14`).
fn iso_date(date: &str) -> Option<String> {
    let digits: String = date.chars().filter(|&c| c != '.').collect();
    (digits.len() == 8 && digits.bytes().all(|b| b.is_ascii_digit()))
        .then(|| format!("{}-{}-{}", &digits[..4], &digits[4..6], &digits[6..]))
}

/// Identifiers by which another object can refer to this film.
pub(super) fn instance(file: &DicomFile) -> InstanceReference {
    let in_data_set = label(&file.data_set, tags::SOP_CLASS_UID);
    let from_meta = in_data_set.is_none();
    let sop_class_uid =
        in_data_set.or_else(|| label(&file.meta, tags::MEDIA_STORAGE_SOP_CLASS_UID));
    InstanceReference {
        sop_class_name: sop_class_uid.as_deref().and_then(|uid| {
            StandardSopClassDictionary
                .by_uid(uid)
                .map(|entry| entry.name.to_owned())
        }),
        sop_class_from_meta: from_meta && sop_class_uid.is_some(),
        sop_class_uid,
        sop_instance_uid: label(&file.data_set, tags::SOP_INSTANCE_UID)
            .or_else(|| label(&file.meta, tags::MEDIA_STORAGE_SOP_INSTANCE_UID)),
        study_instance_uid: label(&file.data_set, tags::STUDY_INSTANCE_UID),
        series_instance_uid: label(&file.data_set, tags::SERIES_INSTANCE_UID),
    }
}

/// Who the film shows: kept apart, never printed.
pub(super) fn identity(data_set: &InMemDicomObject) -> PatientIdentity {
    PatientIdentity {
        name: text(data_set, tags::PATIENT_NAME),
        id: text(data_set, tags::PATIENT_ID),
        birth_date: text(data_set, tags::PATIENT_BIRTH_DATE),
        sex: text(data_set, tags::PATIENT_SEX),
        study_id: text(data_set, tags::STUDY_ID),
        study_date: text(data_set, tags::STUDY_DATE),
        study_time: text(data_set, tags::STUDY_TIME),
        accession_number: text(data_set, tags::ACCESSION_NUMBER),
        referring_physician: text(data_set, tags::REFERRING_PHYSICIAN_NAME),
    }
}

/// Window presets of the VOI LUT module.
pub(super) fn windows(data_set: &InMemDicomObject, warnings: &mut Vec<FilmWarning>) -> Vec<Window> {
    if data_set.get(tags::VOILUT_SEQUENCE).is_some() {
        warnings.push(FilmWarning::new(
            "voi_lut_not_applied",
            "the film has a VOI LUT table, which is not used for showing it: choose a window",
        ));
    }
    let centers = decimals(data_set, tags::WINDOW_CENTER).unwrap_or_default();
    let widths = decimals(data_set, tags::WINDOW_WIDTH).unwrap_or_default();
    let words = text(data_set, tags::WINDOW_CENTER_WIDTH_EXPLANATION).unwrap_or_default();
    let mut words = words.split('\\').map(str::trim);
    let stated = label(data_set, tags::VOILUT_FUNCTION);
    let function = match stated.as_deref() {
        None | Some("LINEAR") => WindowFunction::Linear,
        Some("LINEAR_EXACT") => WindowFunction::LinearExact,
        Some("SIGMOID") => WindowFunction::Sigmoid,
        Some(other) => {
            warnings.push(FilmWarning::new(
                "window_ignored",
                format!("the VOI LUT Function {other} is unknown: its windows are ignored"),
            ));
            return Vec::new();
        }
    };
    let mut presets = Vec::new();
    for (center, width) in centers.into_iter().zip(widths) {
        let explanation = words
            .next()
            .filter(|w| !w.is_empty())
            .map(|w| w.chars().take(64).collect());
        let preset = center
            .zip(width)
            .and_then(|(center, width)| Window::new(center, width, function));
        match preset {
            Some(window) => presets.push(Window {
                explanation,
                ..window
            }),
            None => warnings.push(FilmWarning::new(
                "window_ignored",
                "a window of the film has an unusable center or width and is ignored",
            )),
        }
    }
    presets
}

/// Collects scale facts, believing only what can be.
struct Collector<'a> {
    data_set: &'a InMemDicomObject,
    facts: ScaleFacts,
}

impl Collector<'_> {
    fn state(&mut self, name: &str, tag: Tag, unit: &'static str) -> Option<String> {
        let value = label(self.data_set, tag)?;
        self.facts.statements.push(ScaleFact {
            name: name.to_owned(),
            tag: Some(format!("({:04X},{:04X})", tag.group(), tag.element())),
            value: value.clone(),
            unit,
        });
        Some(value)
    }

    fn disbelieve(&mut self, name: &str, value: &str, unit: &str, limits: [f64; 2]) {
        self.facts.warnings.push(FilmWarning::new(
            "scale_fact_ignored",
            format!(
                "{name} is {value} {unit}, not a number from {} to {}: it is ignored",
                limits[0], limits[1]
            )
            .replace("  ", " "),
        ));
    }

    /// A spacing `[row, column]`.
    fn spacing(&mut self, name: &str, tag: Tag) -> Option<[f64; 2]> {
        let stored = self.state(name, tag, "mm")?;
        let believed = match decimals(self.data_set, tag)?.as_slice() {
            &[Some(row), Some(column)] => Some([row, column]),
            _ => None,
        }
        .filter(|pair| pair.iter().all(|p| BELIEVABLE_PITCH_MM.contains(p)));
        if believed.is_none() {
            let limits = [*BELIEVABLE_PITCH_MM.start(), *BELIEVABLE_PITCH_MM.end()];
            self.disbelieve(name, &stored, "mm", limits);
        }
        believed
    }

    fn single(
        &mut self,
        name: &str,
        tag: Tag,
        unit: &'static str,
        believable: &std::ops::RangeInclusive<f64>,
    ) -> Option<f64> {
        let stored = self.state(name, tag, unit)?;
        let believed = decimal(self.data_set, tag).filter(|v| believable.contains(v));
        // Zero is what some exports write for "unknown".
        if believed.is_none() {
            self.disbelieve(
                name,
                &stored,
                unit,
                [*believable.start(), *believable.end()],
            );
        }
        believed
    }

    /// Items of the Device Sequence with a length or a diameter.
    fn devices(&mut self) {
        let Some(items) = self
            .data_set
            .get(tags::DEVICE_SEQUENCE)
            .and_then(|element| element.items())
        else {
            return;
        };
        for item in items {
            let mut inner = Collector {
                data_set: item,
                facts: ScaleFacts::default(),
            };
            let units = inner.state("Device Diameter Units", tags::DEVICE_DIAMETER_UNITS, "");
            let length_mm = inner.single(
                "Device Length",
                tags::DEVICE_LENGTH,
                "mm",
                &BELIEVABLE_OBJECT_MM,
            );
            // Only millimetres are a length here; FR, GA and IN are not used.
            let diameter_mm = inner
                .single(
                    "Device Diameter",
                    tags::DEVICE_DIAMETER,
                    "",
                    &BELIEVABLE_OBJECT_MM,
                )
                .filter(|_| units.as_deref() == Some("MM"));
            let device = CalibrationDevice {
                length_mm,
                diameter_mm,
                description: label(item, tags::DEVICE_DESCRIPTION),
            };
            self.facts.statements.append(&mut inner.facts.statements);
            self.facts.warnings.append(&mut inner.facts.warnings);
            if device.length_mm.is_some() || device.diameter_mm.is_some() {
                self.facts.devices.push(device);
            }
        }
    }
}

/// Every scale fact of the film.
pub(super) fn scale_facts(data_set: &InMemDicomObject) -> ScaleFacts {
    let mut collector = Collector {
        data_set,
        facts: ScaleFacts::default(),
    };
    let c = &mut collector;
    c.facts.pixel_spacing_mm = c.spacing("Pixel Spacing", tags::PIXEL_SPACING);
    c.facts.calibration_type = c.state(
        "Pixel Spacing Calibration Type",
        tags::PIXEL_SPACING_CALIBRATION_TYPE,
        "",
    );
    c.facts.calibration_description = c.state(
        "Pixel Spacing Calibration Description",
        tags::PIXEL_SPACING_CALIBRATION_DESCRIPTION,
        "",
    );
    c.facts.imager_pixel_spacing_mm = c.spacing("Imager Pixel Spacing", tags::IMAGER_PIXEL_SPACING);
    c.facts.nominal_scanned_pixel_spacing_mm = c.spacing(
        "Nominal Scanned Pixel Spacing",
        tags::NOMINAL_SCANNED_PIXEL_SPACING,
    );
    c.facts.detector_element_spacing_mm =
        c.spacing("Detector Element Spacing", tags::DETECTOR_ELEMENT_SPACING);
    c.facts.estimated_magnification = c.single(
        "Estimated Radiographic Magnification Factor",
        tags::ESTIMATED_RADIOGRAPHIC_MAGNIFICATION_FACTOR,
        "",
        &BELIEVABLE_MAGNIFICATION,
    );
    c.facts.source_to_detector_mm = c.single(
        "Distance Source to Detector",
        tags::DISTANCE_SOURCE_TO_DETECTOR,
        "mm",
        &BELIEVABLE_DISTANCE_MM,
    );
    c.facts.source_to_patient_mm = c.single(
        "Distance Source to Patient",
        tags::DISTANCE_SOURCE_TO_PATIENT,
        "mm",
        &BELIEVABLE_DISTANCE_MM,
    );
    if let (Some(sid), Some(sod)) = (c.facts.source_to_detector_mm, c.facts.source_to_patient_mm)
        && sod >= sid
    {
        c.facts.source_to_patient_mm = None;
        c.facts.warnings.push(FilmWarning::new(
            "scale_fact_ignored",
            format!(
                "Distance Source to Patient {sod} mm is not below Distance Source to Detector {sid} mm: it is ignored"
            ),
        ));
    }
    c.state(
        "Field of View Dimension(s)",
        tags::FIELD_OF_VIEW_DIMENSIONS,
        "mm",
    );
    c.state("Pixel Aspect Ratio", tags::PIXEL_ASPECT_RATIO, "");
    c.devices();
    let mut facts = collector.facts;
    facts.cross_check();
    facts
}
