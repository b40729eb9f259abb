//! What is saved of a class.

use std::path::Path;

use crate::atomic_file;
use crate::feedback;
use crate::grading::class::Watch;
use crate::grading::csv;
use crate::grading::files::ClassGrade;

/// Kinds of record of a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClassRecord {
    /// One row per graded canal.
    Table,
    /// One page of PDF per trace, into a folder.
    Sheets,
}

impl ClassRecord {
    /// What is done while it is written, as a sentence begins.
    pub fn doing(self) -> &'static str {
        match self {
            ClassRecord::Table => "Saving",
            ClassRecord::Sheets => "Writing sheet",
        }
    }

    /// Writes it; what was done, in words.
    ///
    /// # Errors
    /// One line in plain words.
    pub fn write(
        self,
        class: &ClassGrade,
        film: &Path,
        path: &Path,
        watch: &Watch,
    ) -> Result<String, String> {
        match self {
            ClassRecord::Table => {
                let table = csv::table(&class.rubric, &class.traces);
                atomic_file::write(path, table.as_bytes())
                    .map_err(|error| format!("{}: cannot be written: {error}", path.display()))?;
                Ok(format!("Saved as {}", path.display()))
            }
            ClassRecord::Sheets => {
                let sheets = feedback::write(class, film, path, false, watch)?;
                if let Some(first) = sheets.failed.first() {
                    let failed = sheets.failed.len();
                    return Err(format!("{failed} sheets could not be written: {first}"));
                }
                let stopped = if sheets.cancelled {
                    ", then stopped"
                } else {
                    ""
                };
                Ok(format!(
                    "{} sheets written into {}{stopped}",
                    sheets.written.len(),
                    path.display()
                ))
            }
        }
    }
}
