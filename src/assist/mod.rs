//! Trace assistance: two clicks follow a canal, one finds a file.

mod canal_path;
mod centre;
mod centre_line;
mod doubt;
mod file;
mod file_ends;
mod file_line;
mod follow;
mod found_files;
pub mod path;
mod polyline;
pub mod raster;
pub mod reader;
mod readings;
mod ribbon;
pub mod ridge;
mod ridge_path;
mod scale;
pub mod strip;
mod suggest;
mod usual;

pub use doubt::EndEvidence;
pub use file::{AssistWarning, LocateOptions, LocatedFile, locate_file, weighed_files};
pub use file_ends::{FileEvidence, FoundFile, FoundStop};
pub use follow::{FollowOptions, FollowedPath, follow};
pub use readings::{Reading, shown_stretches};
pub use suggest::{SuggestedCanal, SuggestedFile, SuggestedRoot, Suggestions, suggest};

use crate::film::Film;
use crate::progress::Cancelled;
use crate::units::FilmPoint;

/// Why there is no suggestion.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AssistError {
    /// The caller asked to stop.
    #[error("stopped")]
    Cancelled,
    /// Ridge scales absent, or finer than the cells.
    #[error("the ridge scales do not fit the film's pixels")]
    Scale,
    /// A cost that is not a finite number above 0, or a cell off the raster.
    #[error("path costs must be finite and above 0, and both ends lie on the raster")]
    Cost,
    /// Fewer than two clicks.
    #[error("a path needs at least two points")]
    TooFewPoints,
    /// A click that is no point of the film.
    #[error("point {index} ({x:.1}, {y:.1}) lies outside the film of {width} × {height} px")]
    OutsideFilm {
        /// 1 for the first click.
        index: usize,
        x: f64,
        y: f64,
        width: u32,
        height: u32,
    },
    /// Two neighbouring clicks closer than half a pixel.
    #[error("points {index} and {} are the same place; put them further apart", index + 1)]
    SamePlace {
        /// 1 for the first click.
        index: usize,
    },
    /// Nothing at the click looks like an instrument.
    #[error("no file runs within half a millimetre of this point; click on its shank")]
    NoFile,
    /// A pitch that cannot be a film's.
    #[error("a pixel pitch of {mm_per_px} mm is not between 0.005 and 0.2 mm")]
    Pitch { mm_per_px: f64 },
}

impl From<Cancelled> for AssistError {
    fn from(Cancelled: Cancelled) -> Self {
        Self::Cancelled
    }
}

/// # Errors
/// [`AssistError::OutsideFilm`] naming point number `index`.
fn check_on_film(film: &Film, p: FilmPoint, index: usize) -> Result<(), AssistError> {
    let (width, height) = (film.width_px(), film.height_px());
    let inside =
        (0.0..=f64::from(width)).contains(&p.x) && (0.0..=f64::from(height)).contains(&p.y);
    if inside {
        return Ok(());
    }
    Err(AssistError::OutsideFilm {
        index,
        x: p.x,
        y: p.y,
        width,
        height,
    })
}
