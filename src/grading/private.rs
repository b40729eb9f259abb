//! Text that names people or their files, with the words for when names are
//! not wanted.

use serde::{Serialize, Serializer};

use crate::case::CaseError;
use crate::film::FilmError;
use crate::progress::Cancelled;

/// A sentence in two versions: with names, and without. Both are written
/// where the names are known as such; no finished sentence is searched for
/// names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrivateText {
    shown: String,
    without_names: String,
}

impl PrivateText {
    /// The sentence with names, and the one without.
    pub fn new(with_names: impl Into<String>, without_names: impl Into<String>) -> Self {
        Self {
            shown: with_names.into(),
            without_names: without_names.into(),
        }
    }

    /// A remark about the file at `file`, which itself names nobody.
    pub fn about(file: &str, remark: &str) -> Self {
        Self::new(format!("{file}: {remark}"), remark)
    }

    /// The same with the file's name in front where names are shown.
    #[must_use]
    pub fn of_file(self, file: &str) -> Self {
        Self {
            shown: format!("{file}: {}", self.shown),
            ..self
        }
    }

    /// The same with words in front that name nobody.
    #[must_use]
    pub fn about_place(self, place: &str) -> Self {
        Self {
            shown: format!("{place}: {}", self.shown),
            without_names: format!("{place}: {}", self.without_names),
        }
    }

    /// As it is to be shown.
    pub fn text(&self) -> &str {
        &self.shown
    }

    /// Shows the sentence without names from now on.
    pub fn hide_names(&mut self) {
        self.shown.clone_from(&self.without_names);
    }
}

impl From<&str> for PrivateText {
    /// A sentence that names nobody.
    fn from(text: &str) -> Self {
        Self::new(text, text)
    }
}

impl From<String> for PrivateText {
    /// A sentence that names nobody.
    fn from(text: String) -> Self {
        Self::new(text.clone(), text)
    }
}

impl From<CaseError> for PrivateText {
    fn from(error: CaseError) -> Self {
        Self::new(error.to_string(), error.without_names())
    }
}

impl From<&FilmError> for PrivateText {
    fn from(error: &FilmError) -> Self {
        Self::new(error.to_string(), format!("its film: {}", error.fault))
    }
}

impl From<Cancelled> for PrivateText {
    fn from(stop: Cancelled) -> Self {
        stop.to_string().into()
    }
}

impl std::fmt::Display for PrivateText {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.shown)
    }
}

impl Serialize for PrivateText {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.shown)
    }
}
