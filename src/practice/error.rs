//! Why practice cannot be made, opened or graded.

use std::path::PathBuf;

use thiserror::Error;

use crate::grading::files::GradeError;
use crate::phantom::PhantomError;

/// Most films of one set.
pub const MOST_FILMS: usize = 500;

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
    #[error("a set has 1 to {most} films or blocks, not {wanted}", most = MOST_FILMS)]
    Count { wanted: usize },
    /// Somebody asked to stop.
    #[error("stopped: no set was made")]
    Stopped,
    /// The same while grading.
    #[error("stopped: nothing is graded")]
    GradingStopped,
    /// Nothing can be graded.
    #[error(transparent)]
    Grade(GradeError),
}

impl From<GradeError> for PracticeError {
    fn from(error: GradeError) -> Self {
        match error {
            GradeError::Stopped(_) => Self::GradingStopped,
            error => Self::Grade(error),
        }
    }
}

impl PracticeError {
    pub(super) fn file(path: &std::path::Path, reason: impl std::fmt::Display) -> Self {
        Self::File {
            path: path.to_owned(),
            reason: reason.to_string(),
        }
    }
}
