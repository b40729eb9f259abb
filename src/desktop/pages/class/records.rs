//! What is saved of a class.

use std::path::Path;

use super::choice::ClassRecord;
use super::work::Graded;
use crate::atomic_file;
use crate::desktop::ui::wording::counted;
use crate::feedback;
use crate::grading::csv::{self, FilmRows};
use crate::grading::totals;
use crate::progress::Progress;
use crate::report;
use crate::spreadsheet::Dialect;

impl ClassRecord {
    /// Writes it; what was done, in words. `film` is where the film of a class
    /// lies, whose names may have been replaced.
    ///
    /// # Errors
    /// One line in plain words.
    pub fn write(
        self,
        graded: &Graded,
        film: &Path,
        path: &Path,
        progress: &Progress,
    ) -> Result<String, String> {
        let dialect = Dialect {
            semicolons: false,
            byte_order_mark: true,
        };
        match self {
            ClassRecord::Table => {
                let table = match graded {
                    Graded::Class(class) => csv::table(
                        &class.rubric,
                        [FilmRows {
                            film: None,
                            traces: &class.traces,
                            refused: &class.refused,
                        }],
                        dialect,
                    ),
                    Graded::Set(set) => set.table(&graded.class(0).rubric, dialect),
                };
                save(path, &table)
            }
            ClassRecord::Totals => {
                let table = totals::table(graded.students(), dialect);
                save(path, &table)
            }
            ClassRecord::Summary => {
                let report = feedback::summary(&graded.summary());
                let bytes = report::pdf_bytes(&report)?;
                save(path, &bytes)
            }
            ClassRecord::Sheets => {
                let sheets = match graded {
                    Graded::Class(class) => feedback::write(class, film, path, false, progress),
                    Graded::Set(set) => set.write_sheets(path, false, progress),
                }?;
                if let Some(first) = sheets.failed.first() {
                    let failed = sheets.failed.len();
                    return Err(format!(
                        "{} could not be written: {first}",
                        counted(failed, "sheet")
                    ));
                }
                let stopped = if sheets.cancelled {
                    ", then stopped"
                } else {
                    ""
                };
                Ok(format!(
                    "{} written into {}{stopped}",
                    counted(sheets.written.len(), "sheet"),
                    path.display()
                ))
            }
        }
    }
}

fn save(path: &Path, bytes: &[u8]) -> Result<String, String> {
    atomic_file::write(path, bytes)
        .map_err(|error| format!("{}: cannot be written: {error}", path.display()))?;
    Ok(format!("Saved as {}", path.display()))
}
