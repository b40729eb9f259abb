//! Feedback sheets of a class of blocks: one PDF per pair.

use std::path::Path;

use super::sheet::graded_sheet;
use crate::atomic_file;
use crate::feedback::{self, Sheets};
use crate::film::OpenedFilm;
use crate::grading::numbering::Numbering;
use crate::report;
use crate::shaping::Comparison;
use crate::shaping_class::GradedPair;

/// Sheets made while the pairs are graded, to be written at the end.
pub struct PairSheets {
    /// Numbers stand in place of names.
    numbers: Option<Numbering>,
    /// Names of the files without ending, and what they hold.
    made: Vec<(String, Result<Vec<u8>, String>)>,
}

impl PairSheets {
    /// None yet; with names, or with numbers in their place.
    pub fn new(numbers_for_names: bool) -> Self {
        Self {
            numbers: numbers_for_names.then(Numbering::default),
            made: Vec::new(),
        }
    }

    /// Makes the sheet of a pair, while its pictures are in memory.
    pub fn add(&mut self, pair: &GradedPair, comparison: &Comparison, films: &[OpenedFilm; 2]) {
        let mut pair = pair.clone();
        if let Some(numbers) = &mut self.numbers {
            pair.hide_names(self.made.len() + 1, numbers);
        }
        let sheet = graded_sheet(comparison, films, &pair);
        let name = match &pair.block {
            Some(block) => format!("{} {block}", pair.student),
            None => pair.student,
        };
        self.made.push((name, report::pdf_bytes(&sheet)));
    }

    /// Writes them into `folder` (made if need be); without `replace` what is
    /// there is kept. A sheet that cannot be written is listed and stops no
    /// other.
    ///
    /// # Errors
    /// One clear line: the folder cannot be made.
    pub fn write(self, folder: &Path, replace: bool) -> Result<Sheets, String> {
        std::fs::create_dir_all(folder)
            .map_err(|error| format!("{}: {}", folder.display(), atomic_file::reason(&error)))?;
        let names = feedback::file_names(self.made.iter().map(|(name, _)| name.as_str()));
        let mut sheets = Sheets::default();
        for (name, (_, sheet)) in names.iter().zip(self.made) {
            let path = folder.join(name);
            let written = match sheet {
                _ if !replace && path.symlink_metadata().is_ok() => {
                    Err("exists already and is kept".to_owned())
                }
                Ok(bytes) => atomic_file::write(&path, &bytes)
                    .map_err(|error| atomic_file::reason(&error).to_string()),
                Err(reason) => Err(reason),
            };
            match written {
                Ok(()) => sheets.written.push(path),
                Err(reason) => sheets.failed.push(format!("{}: {reason}", path.display())),
            }
        }
        Ok(sheets)
    }
}
