//! Patient, study and equipment: the modules both objects share.

use chrono::{DateTime, Utc};
use dicom_core::VR;
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use super::elements::text;
use super::tree::FilmInstance;
use crate::clock;
use crate::film::dicom::write::derived_uid;
use crate::film::{InstanceReference, PatientIdentity};
use crate::report::measured_case::MeasuredCase;

/// What every object of one export has in common.
pub struct Header {
    identity: PatientIdentity,
    identity_removed: bool,
    /// When the export was made, UTC.
    now: DateTime<Utc>,
    pub study_instance_uid: String,
    pub film_series_uid: String,
    /// Tells this export from every other: part of its instance UIDs.
    pub export_key: String,
}

impl Header {
    pub fn new(measured: &MeasuredCase, include_identity: bool) -> Self {
        let now = clock::record_time();
        let pseudonym = |role: &str| {
            derived_uid(&[
                b"lengthfilm pseudonym",
                role.as_bytes(),
                measured.film.sha256.as_bytes(),
            ])
        };
        let instance = measured.film.instance.as_ref().filter(|_| include_identity);
        let stated = |of: fn(&InstanceReference) -> &Option<String>, role: &str| {
            instance
                .and_then(|instance| of(instance).clone())
                .unwrap_or_else(|| pseudonym(role))
        };
        Self {
            identity: if include_identity {
                measured.film.identity.clone()
            } else {
                PatientIdentity::default()
            },
            identity_removed: !include_identity,
            study_instance_uid: stated(|i| &i.study_instance_uid, "study"),
            film_series_uid: stated(|i| &i.series_instance_uid, "film series"),
            export_key: format!("{} {}", measured.provenance.case_sha256, now.to_rfc3339()),
            now,
        }
    }

    /// The film's own instance, if it has one.
    pub fn film_instance(&self, measured: &MeasuredCase) -> Option<FilmInstance> {
        let instance = measured.film.instance.as_ref()?;
        Some(FilmInstance {
            sop_class_uid: instance.sop_class_uid.clone()?,
            sop_instance_uid: instance.sop_instance_uid.clone()?,
            study_instance_uid: self.study_instance_uid.clone(),
            series_instance_uid: self.film_series_uid.clone(),
        })
    }

    /// Writes the shared modules for an object of `modality` in the series
    /// `series_uid`.
    pub fn put(&self, object: &mut InMemDicomObject, modality: &str, series_uid: &str) {
        let identity = &self.identity;
        let or_empty = |value: &Option<String>| value.clone().unwrap_or_default();
        let (date, time) = (
            self.now.format("%Y%m%d").to_string(),
            self.now.format("%H%M%S").to_string(),
        );
        for (tag, vr, value) in [
            (tags::INSTANCE_CREATION_DATE, VR::DA, date.as_str()),
            (tags::INSTANCE_CREATION_TIME, VR::TM, &time),
            (tags::CONTENT_DATE, VR::DA, &date),
            (tags::CONTENT_TIME, VR::TM, &time),
            (tags::TIMEZONE_OFFSET_FROM_UTC, VR::SH, "+0000"),
            (tags::MODALITY, VR::CS, modality),
            (tags::MANUFACTURER, VR::LO, "Lengthfilm"),
            (tags::MANUFACTURER_MODEL_NAME, VR::LO, "Lengthfilm"),
            (tags::SOFTWARE_VERSIONS, VR::LO, env!("CARGO_PKG_VERSION")),
            (tags::STUDY_INSTANCE_UID, VR::UI, &self.study_instance_uid),
            (tags::SERIES_INSTANCE_UID, VR::UI, series_uid),
            (tags::INSTANCE_NUMBER, VR::IS, "1"),
        ] {
            object.put(text(tag, vr, value));
        }
        for (tag, vr, value) in [
            (tags::PATIENT_NAME, VR::PN, &identity.name),
            (tags::PATIENT_ID, VR::LO, &identity.id),
            (tags::PATIENT_BIRTH_DATE, VR::DA, &identity.birth_date),
            (tags::PATIENT_SEX, VR::CS, &identity.sex),
            (tags::STUDY_ID, VR::SH, &identity.study_id),
            (tags::STUDY_DATE, VR::DA, &identity.study_date),
            (tags::STUDY_TIME, VR::TM, &identity.study_time),
            (tags::ACCESSION_NUMBER, VR::SH, &identity.accession_number),
            (
                tags::REFERRING_PHYSICIAN_NAME,
                VR::PN,
                &identity.referring_physician,
            ),
        ] {
            object.put(text(tag, vr, &or_empty(value)));
        }
        if self.identity_removed {
            object.put(text(tags::PATIENT_IDENTITY_REMOVED, VR::CS, "YES"));
            object.put(text(
                tags::DEIDENTIFICATION_METHOD,
                VR::LO,
                "Lengthfilm: patient left out, every UID replaced",
            ));
        }
    }
}
