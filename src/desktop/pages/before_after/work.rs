//! What is done beside the window: cases opened, compared, and recorded.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::ColorImage;

use crate::atomic_file;
use crate::case::{Case, is_case_path};
use crate::desktop::state::open_film::{OpenFilm, open_case_watched};
use crate::desktop::ui::wording::without_options;
use crate::desktop::view::small_picture;
use crate::film::{self, OpenLimits, OpenedFilm};
use crate::progress::Progress;
use crate::shaping::{self, Comparison, Picture, ShapingError, ShapingSettings};
use crate::shaping_record;
use crate::uncertainty::UncertaintyError;

/// Names of the two films.
pub const NAMES: [&str; 2] = ["Before", "After"];

/// Longest side of the picture shown, px: every graphics card takes it.
const LONGEST_SIDE_PX: u32 = 2048;

/// One of the two films, with its case.
pub struct Side {
    pub case: Case,
    pub film: OpenFilm,
    /// As messages name it.
    pub name: String,
    /// It is the case that is open in the window.
    pub is_open_case: bool,
    /// The film as it is shown.
    pub shown: ColorImage,
}

impl Side {
    /// A case with its film.
    pub fn new(case: Case, film: OpenFilm, name: String, is_open_case: bool) -> Self {
        Self {
            shown: small_picture(&film.film, &film.pyramid, LONGEST_SIDE_PX),
            case,
            film,
            name,
            is_open_case,
        }
    }

    /// Reads a case with its film, which is taken from `elsewhere` where it is
    /// not where the case says.
    ///
    /// # Errors
    /// One line in plain words.
    pub fn open(path: &Path, elsewhere: Option<&Path>) -> Result<Self, String> {
        if !is_case_path(path) {
            return Err(format!(
                "{}: choose a case, not a film: marks, canal and walls are in the case",
                path.display()
            ));
        }
        let (case, film, _) = open_case_watched(path, elsewhere, &Progress::unwatched())?;
        Ok(Self::new(case, film, path.display().to_string(), false))
    }

    /// Its last part, for the head of the page.
    pub fn short_name(&self) -> String {
        let last = Path::new(&self.name).file_name();
        last.map_or(self.name.clone(), |name| {
            name.to_string_lossy().into_owned()
        })
    }

    fn picture(&self) -> Picture {
        Picture {
            case: self.case.clone(),
            film: self.film.summary().clone(),
            name: self.name.clone(),
            marks_u_px: None,
        }
    }
}

/// What a comparison has come to.
pub struct Compared {
    pub comparison: Comparison,
    /// The films it is of.
    pub sides: [Arc<Side>; 2],
}

/// Compares two films; `follow` looks for walls where a case has none. `None`:
/// it was stopped.
///
/// # Errors
/// One line in plain words.
pub fn compare(
    sides: [Arc<Side>; 2],
    settings: &ShapingSettings,
    follow: bool,
    progress: &Progress<'_>,
) -> Option<Result<Compared, String>> {
    let work = || -> Result<Comparison, ShapingError> {
        let [before, after] = &sides;
        if before.film.is_of_other_patient(&after.film) {
            return Err(ShapingError::DifferentPatients {
                before: before.short_name(),
                after: after.short_name(),
            });
        }
        let mut pictures = sides.each_ref().map(|side| side.picture());
        if follow {
            for (picture, side) in pictures.iter_mut().zip(&sides) {
                shaping::follow_walls_of(picture, &side.film.film)?;
            }
        }
        let [before, mut after] = pictures;
        if settings.match_marks {
            let films = sides.each_ref().map(|side| &*side.film.film);
            shaping::match_marks_of(&before, &mut after, films)?;
        }
        shaping::compare_watched(&before, &after, settings, progress)
    };
    match work() {
        Ok(comparison) => Some(Ok(Compared { comparison, sides })),
        Err(ShapingError::Uncertainty(UncertaintyError::Cancelled)) => None,
        Err(error) => Some(Err(without_options(&error.to_string()))),
    }
}

/// Writes a record, its kind by the ending of `out`. The films are read once
/// more: they must still be those that were compared.
///
/// # Errors
/// One line in plain words.
pub fn write_record(compared: &Compared, out: &Path) -> Result<PathBuf, String> {
    let [before, after] = &compared.sides;
    let films = [reopened(before)?, reopened(after)?];
    let bytes = shaping_record::bytes(&compared.comparison, &films, out, false)
        .map_err(|error| error.to_string())?;
    atomic_file::write(out, &bytes)
        .map_err(|error| format!("{}: {}", out.display(), atomic_file::reason(&error)))?;
    Ok(out.to_owned())
}

fn reopened(side: &Side) -> Result<OpenedFilm, String> {
    let path = side.film.path.as_ref().ok_or_else(|| {
        format!(
            "{}: its film is in no file yet; save the case first",
            side.short_name()
        )
    })?;
    let film = film::open(path, &OpenLimits::default()).map_err(|error| error.to_string())?;
    if side
        .film
        .sha256
        .as_ref()
        .is_some_and(|known| *known != film.sha256)
    {
        return Err(format!(
            "{}: the film has changed since it was compared; compare anew",
            path.display()
        ));
    }
    Ok(film)
}
