//! The flat picture written, with its facts and a case that has its scale.

use std::path::{Path, PathBuf};

use crate::case::{self, edit};
use crate::film::{self, OpenLimits};
use crate::flatten::{self, Facts, Flattening};

/// What a flat picture comes with.
pub struct Written {
    /// The case on it, with its scale.
    pub case: PathBuf,
}

/// Where the case on a flat picture stands.
fn case_beside(out: &Path) -> PathBuf {
    out.with_extension("case.json")
}

/// Makes the photograph flat and writes the picture, its facts and a case.
///
/// # Errors
/// One line in plain words.
pub fn write(
    photo: &Path,
    sha256: Option<&str>,
    flattening: &Flattening,
    facts: &Facts,
    out: &Path,
) -> Result<Written, String> {
    let case_path = case_beside(out);
    if case_path.symlink_metadata().is_ok() {
        return Err(format!(
            "{}: exists already and is kept; choose another name for the flat picture",
            case_path.display()
        ));
    }
    let opened = film::open(photo, &OpenLimits::default()).map_err(|error| error.to_string())?;
    if sha256.is_some_and(|known| known != opened.sha256) {
        return Err(format!(
            "{}: the photograph has changed since it was opened; open it again",
            photo.display()
        ));
    }
    flatten::write(&opened, flattening, facts, out)?;
    let flat = film::open(out, &OpenLimits::default()).map_err(|error| error.to_string())?;
    let name = out.file_name().unwrap_or(out.as_os_str());
    let mut case = edit::new_case(&name.to_string_lossy());
    case.film.sha256 = Some(flat.sha256);
    case.film.pixel_pitch_mm = Some([facts.mm_per_px; 2]);
    case::save(&case, &case_path).map_err(|error| error.to_string())?;
    Ok(Written { case: case_path })
}
