//! A case with its film, before or after.

use std::path::Path;

use super::error::ShapingError;
use crate::case::Case;
use crate::film::OpenedFilm;
use crate::measure::{FilmSummary, open_case};

/// A case with its film.
#[derive(Clone, Debug)]
pub struct Picture {
    pub case: Case,
    pub film: FilmSummary,
    /// As messages name it.
    pub name: String,
    /// Standard uncertainty of the marks against those of the picture before,
    /// per coordinate, where the pictures themselves brought them there; `None`:
    /// they are clicks.
    pub marks_u_px: Option<f64>,
}

/// Reads a case with its film.
///
/// # Errors
/// [`ShapingError::Measure`].
pub fn open_picture(path: &Path) -> Result<(Picture, OpenedFilm), ShapingError> {
    let (case, film) = open_case(path)?;
    let picture = Picture {
        case,
        film: FilmSummary::from(&film),
        name: path.display().to_string(),
        marks_u_px: None,
    };
    Ok((picture, film))
}
