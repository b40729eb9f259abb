//! Opening a film file of any known format.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use image::metadata::Orientation;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::fault::{FilmError, FilmFault, contained};
use super::limits::OpenLimits;
use super::raster::{RasterFile, bmp, jpeg, png, tiff};
use super::scale_facts::{FilmWarning, ScaleFacts};
use super::window::Window;
use super::{Film, dicom};
use crate::input_file;

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

    /// The format by the first bytes; file names are not looked at.
    pub fn sniff(bytes: &[u8]) -> Option<Self> {
        match bytes {
            [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Some(Self::Png),
            [0xFF, 0xD8, 0xFF, ..] => Some(Self::Jpeg),
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(Self::Tiff),
            _ if dicom::is_dicom(bytes) => Some(Self::Dicom),
            [b'B', b'M', ..] => Some(Self::Bmp),
            _ => None,
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

/// Opens the film at `path`.
///
/// # Errors
/// One line in words when the file cannot be read, is of no known format, is
/// damaged, exceeds `limits` or is of a kind that is not supported.
pub fn open(path: &Path, limits: &OpenLimits) -> Result<OpenedFilm, FilmError> {
    read(path, limits).map_err(|fault| FilmError::new(path, fault))
}

/// Opens a film whose file is already in memory; `path` only names it.
///
/// # Errors
/// As [`open`].
pub fn open_bytes(path: &Path, bytes: &[u8], limits: &OpenLimits) -> Result<OpenedFilm, FilmError> {
    limits
        .check_bytes(bytes.len() as u64)
        .and_then(|()| decode(path, bytes, limits))
        .map_err(|fault| FilmError::new(path, fault))
}

fn read(path: &Path, limits: &OpenLimits) -> Result<OpenedFilm, FilmFault> {
    let metadata = fs::metadata(path)?;
    if metadata.is_file() {
        limits.check_bytes(metadata.len())?;
    }
    decode(path, &input_file::read(path, limits.max_bytes())?, limits)
}

fn decode(path: &Path, bytes: &[u8], limits: &OpenLimits) -> Result<OpenedFilm, FilmFault> {
    let format = FilmFormat::sniff(bytes).ok_or(FilmFault::UnknownFormat)?;
    let sha256 = hex_digest(bytes);
    let decode = match format {
        FilmFormat::Png => png::decode,
        FilmFormat::Jpeg => jpeg::decode,
        FilmFormat::Tiff => tiff::decode,
        FilmFormat::Bmp => bmp::decode,
        FilmFormat::Dicom => return dicom::read(path, bytes, sha256, limits),
    };
    let raster = contained(format.name(), || decode(bytes, limits))?;
    from_raster(path, format, sha256, raster)
}

fn from_raster(
    path: &Path,
    format: FilmFormat,
    sha256: String,
    raster: RasterFile,
) -> Result<OpenedFilm, FilmFault> {
    let resolution_tags = raster.upright_resolution();
    let (film, transparent) = raster
        .picture
        .into_film(format.name(), raster.orientation)?;
    let mut warnings = Vec::new();
    if transparent {
        warnings.push(FilmWarning::new(
            "transparency",
            "parts of the film are transparent: they are shown over black",
        ));
    }
    if raster.more_pages {
        warnings.push(FilmWarning::new(
            "several_pages",
            "the file holds several pictures: the first is used",
        ));
    }
    Ok(OpenedFilm {
        path: path.to_path_buf(),
        sha256,
        facts: FilmFacts {
            format,
            width_px: film.width_px(),
            height_px: film.height_px(),
            bits_stored: film.bits_stored(),
            photometric: raster.photometric,
            orientation_applied: raster.orientation != Orientation::NoTransforms,
            transfer_syntax: None,
            acquisition_date: None,
            modality: None,
            presentation_lut_shape: None,
            bits_allocated: None,
            signed: false,
        },
        scale: ScaleFacts {
            resolution_tags,
            ..ScaleFacts::default()
        },
        film,
        windows: Vec::new(),
        instance: None,
        identity: PatientIdentity::default(),
        warnings,
    })
}

/// Lower-case hex SHA-256.
pub fn hex_digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}
