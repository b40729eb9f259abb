//! Films and cases read from files, and the built-in demo.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use crate::case::{self, Case, CaseError};
use crate::desktop::view::Pyramid;
use crate::film::{self, Film, OpenLimits, OpenedFilm, Window};
use crate::measure::FilmSummary;
use crate::phantom;
use crate::progress::Progress;
use crate::tooth::ToothNumber;
use crate::two_view::check_patients;

/// A film ready to be shown and measured.
#[derive(Clone)]
pub struct OpenFilm {
    pub film: Arc<Film>,
    pub pyramid: Arc<Pyramid>,
    /// File it came from; `None` for the built-in demo.
    pub path: Option<PathBuf>,
    /// Facts about scale and exposure that the file states, in words.
    pub facts: Vec<Fact>,
    /// Date of the exposure, where the file states it.
    pub taken_on: Option<String>,
    /// The tooth that it shows, where the file states one.
    pub tooth: Option<ToothNumber>,
    /// What is to be said where the pixels themselves name the patient.
    pub burned_in: Option<String>,
    /// Window the film's author chose, if any.
    pub preset: Option<Window>,
    /// Lower-case hex SHA-256 of the file.
    pub sha256: Option<String>,
    /// What the file system said when it was read.
    pub stamp: Option<FileStamp>,
    /// What the film states of its patient: compared with another film's,
    /// never shown.
    pub(super) patient: Option<String>,
    /// What measuring needs of it.
    pub(super) summary: FilmSummary,
}

impl OpenFilm {
    /// What measuring needs of it.
    pub fn summary(&self) -> &FilmSummary {
        &self.summary
    }

    /// Both films state their patient, and not the same.
    pub fn is_of_other_patient(&self, other: &Self) -> bool {
        let patients = [self, other].map(|film| film.patient.as_deref());
        check_patients(patients, [""; 2]).is_err()
    }

    /// Columns and rows.
    pub fn size_px(&self) -> [u32; 2] {
        [self.film.width_px(), self.film.height_px()]
    }
}

/// One fact with its name, as shown in the scale panel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    pub name: String,
    pub value: String,
}

/// Size and time of a file: a change of either asks for a closer look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileStamp {
    pub bytes: u64,
    pub modified: Option<SystemTime>,
}

impl FileStamp {
    /// The stamp of a file; `None` when it cannot be seen.
    pub fn of(path: &Path) -> Option<Self> {
        let metadata = std::fs::metadata(path).ok()?;
        Some(Self {
            bytes: metadata.len(),
            modified: metadata.modified().ok(),
        })
    }
}

/// Reads and decodes a film.
///
/// # Errors
/// One line in plain words.
pub fn open_film(path: &Path) -> Result<OpenFilm, String> {
    open_film_watched(path, &Progress::unwatched())
}

/// [`open_film`] whose reading `progress` is told of and stops.
///
/// # Errors
/// As [`open_film`].
pub fn open_film_watched(path: &Path, progress: &Progress) -> Result<OpenFilm, String> {
    let of_disk = path.to_owned();
    let stamp = progress
        .wait_for(move || FileStamp::of(&of_disk))
        .map_err(|stop| stop.to_string())?;
    let opened = film::open_watched(path, &OpenLimits::default(), progress)
        .map_err(|error| error.to_string())?;
    Ok(ready(opened, stamp))
}

/// A case, its film and the SHA-256 of the case file.
pub type OpenedCase = (Case, OpenFilm, String);

/// Reads a case and its film, with the SHA-256 of the case file.
///
/// # Errors
/// One line in plain words.
pub fn open_case(path: &Path) -> Result<OpenedCase, String> {
    open_case_watched(path, None, &Progress::unwatched())
}

/// [`open_case`] whose reading `progress` is told of and stops. A film that is
/// not where the case says is taken from `elsewhere`: hand-ins often come
/// without theirs.
///
/// # Errors
/// As [`open_case`].
pub fn open_case_watched(
    path: &Path,
    elsewhere: Option<&Path>,
    progress: &Progress,
) -> Result<OpenedCase, String> {
    let (of_disk, elsewhere) = (path.to_owned(), elsewhere.map(Path::to_owned));
    let read = move || read_case(&of_disk, elsewhere.as_deref());
    let read = progress.wait_for(read).map_err(|stop| stop.to_string())?;
    let (case, film_path, case_sha256) = read.map_err(|error| error.to_string())?;
    let film = open_film_watched(&film_path, progress)?;
    if let Some(sha256) = &film.sha256 {
        case::check_film_hash(&case, path, sha256).map_err(|error| error.to_string())?;
    }
    Ok((case, film, case_sha256))
}

/// A case, the film that it names, else the one `elsewhere`, and the SHA-256 of
/// the case file.
fn read_case(path: &Path, elsewhere: Option<&Path>) -> Result<(Case, PathBuf, String), CaseError> {
    let (mut case, case_sha256) = case::load_with_hash(path)?;
    let film_path = match (case::existing_film_path(&case, path), elsewhere) {
        (Ok(film_path), _) => film_path,
        (Err(_), Some(film)) => {
            let film = std::path::absolute(film).unwrap_or_else(|_| film.to_owned());
            case.film.path = film.to_string_lossy().into_owned();
            film
        }
        (Err(error), None) => return Err(error),
    };
    Ok((case, film_path, case_sha256))
}

fn ready(opened: OpenedFilm, stamp: Option<FileStamp>) -> OpenFilm {
    let summary = FilmSummary::from(&opened);
    let stated = opened.scale.statements.iter().map(|fact| Fact {
        name: fact.name.clone(),
        value: format!("{} {}", fact.value, fact.unit)
            .trim_end()
            .to_owned(),
    });
    let offered = opened.scale.resolution_tags.iter().map(|tag| Fact {
        name: format!("{} (not used)", tag.source),
        value: format!("{:.4} × {:.4} mm", tag.pitch_mm[0], tag.pitch_mm[1]),
    });
    let noted = opened
        .warnings
        .iter()
        .chain(&opened.scale.warnings)
        .map(|warning| Fact {
            name: "Note".to_owned(),
            value: warning.text.clone(),
        });
    OpenFilm {
        pyramid: Arc::new(Pyramid::new(&opened.film)),
        facts: stated.chain(offered).chain(noted).collect(),
        taken_on: opened.identity.study_date.as_deref().map(readable_date),
        tooth: opened.facts.tooth,
        patient: opened.identity.patient(),
        burned_in: opened
            .warnings
            .iter()
            .find(|warning| warning.code == "burned_in_annotation")
            .map(|warning| warning.text.clone()),
        preset: opened.windows.first().cloned(),
        film: Arc::new(opened.film),
        path: Some(opened.path),
        sha256: Some(opened.sha256),
        stamp,
        summary,
    }
}

/// `20260304` (PS3.5 6.2, DA) as `2026-03-04`; anything else as it is.
fn readable_date(date: &str) -> String {
    match (date.len(), date.bytes().all(|b| b.is_ascii_digit())) {
        (8, true) => format!("{}-{}-{}", &date[..4], &date[4..6], &date[6..]),
        _ => date.to_owned(),
    }
}

/// The built-in demo case with its film, which is in no file of the user's.
///
/// # Errors
/// One line in plain words.
pub fn demo() -> Result<(Case, OpenFilm), String> {
    let demo = phantom::demo().map_err(|error| error.to_string())?;
    let film = OpenFilm {
        path: None,
        sha256: None,
        ..ready(demo.film, None)
    };
    // Saved, its film is written anew: same samples, other bytes.
    let mut case = demo.case;
    case.film.sha256 = None;
    Ok((case, film))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dicom_dates_become_readable_and_others_stay() {
        assert_eq!(readable_date("20260304"), "2026-03-04");
        assert_eq!(readable_date("March"), "March");
    }
}
