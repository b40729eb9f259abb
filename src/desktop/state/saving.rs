//! Saving over a file that another program or window may have written.

use std::path::PathBuf;

use crate::case::{self, Case, CaseError};
use crate::film::hex_digest;

/// What may be replaced by saving.
#[derive(Clone, Debug)]
pub enum Over {
    /// The file as this window last saw it.
    Known(Option<String>),
    /// Whatever is there: the user was asked.
    Agreed,
    /// Nothing: the case goes beside it under another name.
    Beside,
}

/// Where a case was saved.
pub struct SavedAs {
    pub path: PathBuf,
    pub sha256: String,
}

/// Why it was not.
pub enum SaveProblem {
    /// Somebody else's work is in the file.
    Changed,
    Other(String),
}

impl From<CaseError> for SaveProblem {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::ChangedOnDisk { .. } => Self::Changed,
            other => Self::Other(other.to_string()),
        }
    }
}

impl Over {
    /// Saves the case, or the work of somebody else is kept.
    pub fn save(self, case: &Case, path: PathBuf) -> Result<SavedAs, CaseError> {
        let sha256 = || hex_digest(case::to_json(case).as_bytes());
        match self {
            Self::Known(known) => case::save_over(case, &path, known.as_deref())
                .map(|sha256| SavedAs { path, sha256 }),
            Self::Agreed => case::save(case, &path).map(|()| SavedAs {
                path,
                sha256: sha256(),
            }),
            Self::Beside => case::save_beside(case, &path).map(|path| SavedAs {
                path,
                sha256: sha256(),
            }),
        }
    }
}
