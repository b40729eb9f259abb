//! Files as a case stores them.

use super::file_request::FileRequest;
use super::nominal::{FileError, NominalFile, WORKING_PART_MM, check_step_back};
use crate::case::{Canal, ShapingFile};

/// The files of a canal, in the order of use.
///
/// # Errors
/// [`FileError`] of the first that is none.
pub fn in_case(canal: &Canal) -> Result<Vec<FileRequest>, FileError> {
    canal.shaping_files.iter().map(request).collect()
}

fn request(stored: &ShapingFile) -> Result<FileRequest, FileError> {
    check_step_back(stored.step_back_mm)?;
    let file = match (stored.size, stored.taper, &stored.diameters_mm) {
        (None, None, Some(stations)) => NominalFile::variable(stations)?,
        (Some(size), Some(taper), None) => {
            let working_part = stored.working_part_mm.unwrap_or(WORKING_PART_MM);
            NominalFile::tapered(size, taper, working_part)?
        }
        (_, _, None) => return Err(FileError::Incomplete),
        _ => return Err(FileError::Both),
    };
    Ok(FileRequest {
        file,
        step_back_mm: stored.step_back_mm,
    })
}

/// The same as it is stored.
pub fn to_case(request: &FileRequest) -> ShapingFile {
    let FileRequest { file, step_back_mm } = request;
    let plain = file.taper().is_some();
    let working_part = file.working_part_mm();
    ShapingFile {
        size: plain.then(|| file.size()),
        taper: file.taper(),
        working_part_mm: (plain && working_part != WORKING_PART_MM).then_some(working_part),
        diameters_mm: (!plain).then(|| file.stations_mm().to_vec()),
        step_back_mm: *step_back_mm,
        ..ShapingFile::default()
    }
}
