//! Practice: films whose truth is known but sealed until it is graded
//! against, so that students train against the truth rather than an opinion.
//!
//! [`make`] renders a set of films and seals their truth; [`OpenedSet::open`]
//! opens it with the passphrase; [`grade`] grades traces of any of the films.

mod films;
mod grade;
mod records;
mod seal;
mod truth;

use std::path::PathBuf;

use thiserror::Error;

use crate::grading::files::GradeError;
use crate::phantom::PhantomError;

pub use films::{Difficulty, MOST_FILMS, MadeSet, SetRequest, is_sealed_path, make};
pub use grade::{FilmGrade, PracticeGrade, StudentTotal, grade};
pub use truth::{FilmTruth, OpenedSet, films_folder};

/// Shortest passphrase taken, characters.
pub const LEAST_PASSPHRASE: usize = 8;

/// Why practice cannot be made, opened or graded: one clear line.
#[derive(Debug, Error)]
pub enum PracticeError {
    /// A film cannot be rendered or written.
    #[error(transparent)]
    Film(#[from] PhantomError),
    /// A file cannot be read or written, or is not what it should be.
    #[error("{path}: {reason}")]
    File { path: PathBuf, reason: String },
    /// The passphrase is too short to seal anything.
    #[error("the passphrase needs at least {LEAST_PASSPHRASE} characters")]
    ShortPassphrase,
    /// Files of that name are there already.
    #[error("{path}: exists already and is kept; choose another folder")]
    Exists { path: PathBuf },
    /// How many films may be made.
    #[error("a set has 1 to {most} films, not {wanted}", most = films::MOST_FILMS)]
    Count { wanted: usize },
    /// Somebody asked to stop.
    #[error("stopped: no set was made")]
    Stopped,
    /// Nothing can be graded.
    #[error(transparent)]
    Grade(#[from] GradeError),
}

impl PracticeError {
    fn file(path: &std::path::Path, reason: impl std::fmt::Display) -> Self {
        Self::File {
            path: path.to_owned(),
            reason: reason.to_string(),
        }
    }
}
