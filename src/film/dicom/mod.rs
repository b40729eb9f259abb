//! DICOM films through dicom-rs: intra-oral, DX, CR, secondary capture.
//!
//! Real files break rules; these breaches are accepted: a SOP class only in
//! the file meta or a private one, a Planar Configuration with one sample,
//! ill-formed values of attributes that are not needed.

mod attributes;
mod codecs;
mod data_set;
mod facts;
mod palette;
mod pixels;
mod rle;
pub mod tooth_codes;
pub mod write;

use std::path::Path;

use super::fault::FilmFault;
use super::limits::OpenLimits;
use super::opened::{FilmFormat, OpenedFilm};

pub use write::{IntraOralFilm, write_intra_oral};

pub(crate) use data_set::parse_data_set;
pub(crate) use pixels::COMPRESSED_SYNTAXES;

/// DICOM Part 10: 128 bytes of preamble, then `DICM`.
pub(crate) fn is_dicom(bytes: &[u8]) -> bool {
    bytes.get(128..132) == Some(b"DICM")
}

/// Reads a DICOM film.
pub(crate) fn read(
    path: &Path,
    bytes: &[u8],
    sha256: String,
    limits: &OpenLimits,
) -> Result<OpenedFilm, FilmFault> {
    let object = data_set::read(bytes, limits)?;
    let decoded = pixels::decode(&object, limits)?;
    let mut warnings = decoded.warnings;
    warnings.extend(facts::burned_in_warning(&object.data_set));
    let windows = facts::windows(&object.data_set, &mut warnings);
    Ok(OpenedFilm {
        path: path.to_path_buf(),
        facts: facts::film_facts(&object, &decoded.film, FilmFormat::Dicom),
        scale: facts::scale_facts(&object.data_set),
        windows,
        instance: Some(facts::instance(&object)),
        identity: facts::identity(&object.data_set),
        film: decoded.film,
        sha256,
        warnings,
    })
}
