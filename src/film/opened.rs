//! A film with everything its file says.

use std::fmt;
use std::path::PathBuf;

use serde::Serialize;

use super::Film;
use super::scale_facts::{FilmWarning, ScaleFacts};
use super::window::Window;
use crate::tooth::ToothNumber;

/// File formats, told apart by their first bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum FilmFormat {
    /// Portable Network Graphics.
    #[serde(rename = "PNG")]
    Png,
    /// JPEG (JFIF or EXIF).
    #[serde(rename = "JPEG")]
    Jpeg,
    /// Tagged Image File Format.
    #[serde(rename = "TIFF")]
    Tiff,
    /// Windows bitmap.
    #[serde(rename = "BMP")]
    Bmp,
    /// DICOM Part 10 file.
    #[serde(rename = "DICOM")]
    Dicom,
}

impl FilmFormat {
    /// Usual name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
            Self::Tiff => "TIFF",
            Self::Bmp => "BMP",
            Self::Dicom => "DICOM",
        }
    }
}

/// What a film file says about its pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmFacts {
    /// File format.
    pub format: FilmFormat,
    /// Columns after orientation.
    pub width_px: u32,
    /// Rows after orientation.
    pub height_px: u32,
    /// Depth of the film's samples.
    pub bits_stored: u8,
    /// Photometric interpretation, or the picture's colour model.
    pub photometric: String,
    /// An EXIF or TIFF orientation turned or flipped the stored raster.
    pub orientation_applied: bool,
    /// DICOM transfer syntax: UID and name.
    pub transfer_syntax: Option<(String, String)>,
    /// DICOM Acquisition Date, else Content Date, as ISO 8601.
    pub acquisition_date: Option<String>,
    /// DICOM Modality.
    pub modality: Option<String>,
    /// Presentation LUT Shape.
    pub presentation_lut_shape: Option<String>,
    /// Bits Allocated, DICOM only.
    pub bits_allocated: Option<u32>,
    /// Burned In Annotation: whether the pixels identify the patient, where the
    /// file says.
    pub burned_in_annotation: Option<bool>,
    /// The one tooth that the DICOM header says the film shows.
    pub tooth: Option<ToothNumber>,
    /// Pixel Representation says signed.
    pub signed: bool,
}

/// Identifiers by which another DICOM object can refer to a film.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InstanceReference {
    /// SOP Class UID, from the data set or else the file meta.
    pub sop_class_uid: Option<String>,
    /// Its name, where it is a standard one.
    pub sop_class_name: Option<String>,
    /// The data set has no SOP class; the file meta's is given.
    pub sop_class_from_meta: bool,
    /// SOP Instance UID.
    pub sop_instance_uid: Option<String>,
    /// Study Instance UID.
    pub study_instance_uid: Option<String>,
    /// Series Instance UID.
    pub series_instance_uid: Option<String>,
}

/// Who a film shows. Needed to file a report beside the film; never printed:
/// its debug form is empty.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct PatientIdentity {
    /// Patient's Name.
    pub name: Option<String>,
    /// Patient ID.
    pub id: Option<String>,
    /// Patient's Birth Date.
    pub birth_date: Option<String>,
    /// Patient's Sex.
    pub sex: Option<String>,
    /// Study ID.
    pub study_id: Option<String>,
    /// Study Date.
    pub study_date: Option<String>,
    /// Study Time.
    pub study_time: Option<String>,
    /// Accession Number.
    pub accession_number: Option<String>,
    /// Referring Physician's Name.
    pub referring_physician: Option<String>,
}

impl PatientIdentity {
    /// What tells one patient from another: the ID, or the name without one.
    pub fn patient(&self) -> Option<String> {
        self.id.clone().or_else(|| self.name.clone())
    }
}

impl fmt::Debug for PatientIdentity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PatientIdentity(withheld)")
    }
}

/// A film with everything its file says.
#[derive(Clone, Debug)]
pub struct OpenedFilm {
    /// As it was named.
    pub path: PathBuf,
    /// Lower-case hex SHA-256 of the file.
    pub sha256: String,
    /// The raster.
    pub film: Film,
    /// Facts about the pixels.
    pub facts: FilmFacts,
    /// Facts about scale.
    pub scale: ScaleFacts,
    /// Window presets of the file.
    pub windows: Vec<Window>,
    /// DICOM identifiers; `None` for pictures.
    pub instance: Option<InstanceReference>,
    /// Who the film shows.
    pub identity: PatientIdentity,
    /// What the user should know about the pixels. (Scale has its own.)
    pub warnings: Vec<FilmWarning>,
}
