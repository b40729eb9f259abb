//! Rubrics as files, whatever they judge.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;
use thiserror::Error;

use super::rubric_line::{self, Judged, RubricLine};
use crate::atomic_file;
use crate::input_file;

/// Largest rubric read, bytes.
const MAX_BYTES: u64 = 1 << 20;

/// Why a rubric cannot be used: one clear line.
#[derive(Debug, Error)]
pub enum RubricError {
    #[error("{path}: {reason}")]
    Read { path: PathBuf, reason: String },
    #[error("{path}: {source}; {expected_in} says what is expected")]
    Shape {
        path: PathBuf,
        source: serde_json::Error,
        expected_in: &'static str,
    },
    #[error("{path}: {reason}")]
    Invalid { path: PathBuf, reason: String },
}

/// What every rubric begins with.
pub(crate) struct Head<'a> {
    pub format: &'a str,
    pub version: u32,
    pub pass_share: f64,
}

/// A kind of rubric file.
pub(crate) trait RubricFile: Serialize + DeserializeOwned {
    /// Value of the `format` key.
    const FORMAT: &'static str;
    /// Newest version this program reads.
    const VERSION: u32;
    /// What it is a rubric for, as a sentence goes on.
    const KIND: &'static str;
    /// Where the documents say what it holds.
    const EXPECTED_IN: &'static str;
    /// What its lines judge.
    type Measure: Judged;

    fn head(&self) -> Head<'_>;
    fn lines(&self) -> &[RubricLine<Self::Measure>];
}

/// Reads a rubric; `fault` says what is wrong with it, if anything.
pub(crate) fn load<R: RubricFile>(
    path: &Path,
    fault: impl FnOnce(&R) -> Option<String>,
) -> Result<R, RubricError> {
    let path = path.to_owned();
    let bytes = match input_file::read(&path, MAX_BYTES) {
        Ok(bytes) => bytes,
        Err(error) => {
            let reason = atomic_file::reading_reason(&error);
            return Err(RubricError::Read { path, reason });
        }
    };
    match serde_json::from_slice(&bytes) {
        Err(source) => Err(RubricError::Shape {
            path,
            source,
            expected_in: R::EXPECTED_IN,
        }),
        Ok(rubric) => match fault(&rubric) {
            None => Ok(rubric),
            Some(reason) => Err(RubricError::Invalid { path, reason }),
        },
    }
}

/// The rubric as it stands in a file.
pub(crate) fn to_json<R: RubricFile>(rubric: &R) -> String {
    let mut text = serde_json::to_string_pretty(rubric).expect("a rubric has string keys only");
    text.push('\n');
    text
}

/// What is wrong with the head or the lines, if anything.
pub(crate) fn fault<R: RubricFile>(rubric: &R) -> Option<String> {
    let head = rubric.head();
    if head.format != R::FORMAT {
        return Some(format!(
            "not a {} (its \"format\" is not \"{}\")",
            R::KIND,
            R::FORMAT
        ));
    }
    if head.version != R::VERSION {
        return Some(format!(
            "rubric version {} is not known ({})",
            head.version,
            R::VERSION
        ));
    }
    if !(0.0..=1.0).contains(&head.pass_share) {
        return Some("pass_share must lie in 0–1".to_owned());
    }
    rubric_line::fault(rubric.lines())
}
