//! Opening a film file of any known format.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::Path;

use image::metadata::Orientation;
use sha2::{Digest, Sha256};

use super::dicom;
use super::fault::{FilmError, FilmFault, contained};
use super::limits::OpenLimits;
use super::memory;
use super::opened::{FilmFacts, FilmFormat, OpenedFilm, PatientIdentity};
use super::raster::{RasterFile, bmp, jpeg, png, tiff};
use super::scale_facts::{FilmWarning, ScaleFacts};
use crate::input_file;
use crate::progress::Progress;

/// The format by the first bytes; file names are not looked at.
fn sniff(bytes: &[u8]) -> Option<FilmFormat> {
    match bytes {
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Some(FilmFormat::Png),
        [0xFF, 0xD8, 0xFF, ..] => Some(FilmFormat::Jpeg),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(FilmFormat::Tiff),
        _ if dicom::is_dicom(bytes) => Some(FilmFormat::Dicom),
        [b'B', b'M', ..] => Some(FilmFormat::Bmp),
        _ => None,
    }
}

/// Opens the film at `path`.
///
/// # Errors
/// One line in words when the file cannot be read, is of no known format, is
/// damaged, exceeds `limits` or is of a kind that is not supported.
pub fn open(path: &Path, limits: &OpenLimits) -> Result<OpenedFilm, FilmError> {
    open_watched(path, limits, &Progress::unwatched())
}

/// [`open`] that tells `progress` the bytes read and can be stopped, while it
/// reads and before it decodes.
///
/// # Errors
/// As [`open`]; "stopped" when the caller asked to.
pub fn open_watched(
    path: &Path,
    limits: &OpenLimits,
    progress: &Progress,
) -> Result<OpenedFilm, FilmError> {
    memory::while_decoding(|| read(path, limits, progress))
        .map_err(|fault| FilmError::new(path, fault))
}

/// Opens a film whose file is already in memory; `path` only names it.
///
/// # Errors
/// As [`open`].
pub fn open_bytes(path: &Path, bytes: &[u8], limits: &OpenLimits) -> Result<OpenedFilm, FilmError> {
    limits
        .check_bytes(bytes.len() as u64)
        .and_then(|()| memory::while_decoding(|| decode(path, bytes, limits)))
        .map_err(|fault| FilmError::new(path, fault))
}

fn read(path: &Path, limits: &OpenLimits, progress: &Progress) -> Result<OpenedFilm, FilmFault> {
    let of_disk = path.to_owned();
    let metadata = progress
        .wait_for(move || fs::metadata(of_disk))
        .map_err(|stop| io::Error::new(ErrorKind::Interrupted, stop))??;
    if metadata.is_file() {
        limits.check_bytes(metadata.len())?;
        memory::need_for_file(metadata.len());
    }
    let bytes = input_file::read_watched(path, limits.max_bytes(), progress)?;
    decode(path, &bytes, limits)
}

fn decode(path: &Path, bytes: &[u8], limits: &OpenLimits) -> Result<OpenedFilm, FilmFault> {
    let format = sniff(bytes).ok_or(FilmFault::UnknownFormat)?;
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
            burned_in_annotation: None,
            tooth: None,
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
