//! A file asked for, and where its tip stands.

use super::nominal::{FileError, NominalFile, check_step_back};

/// A file with how far short of the working length it is set.
#[derive(Clone, Debug, PartialEq)]
pub struct FileRequest {
    pub file: NominalFile,
    pub step_back_mm: f64,
}

impl FileRequest {
    /// Reads a file with its step-back after a colon: `30/.02:1`.
    ///
    /// # Errors
    /// [`FileError`], one line.
    pub fn parse(text: &str) -> Result<Self, FileError> {
        let (file, step_back) = match text.rsplit_once(':') {
            Some((file, step_back)) => (file, Some(step_back)),
            None => (text, None),
        };
        let step_back_mm = match step_back {
            Some(step_back) => step_back
                .trim()
                .parse()
                .map_err(|_| FileError::Unreadable {
                    text: text.to_owned(),
                })?,
            None => 0.0,
        };
        check_step_back(step_back_mm)?;
        Ok(Self {
            file: NominalFile::parse(file)?,
            step_back_mm,
        })
    }
}
