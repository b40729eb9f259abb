//! What is saved of a graded set: the table, the feedback sheets.

use std::path::Path;

use super::grade::{FilmGrade, PracticeGrade};
use crate::feedback::{self, Sheets};
use crate::grading::csv::{self, FilmRows};
use crate::grading::rubric::Rubric;
use crate::progress::{Progress, Steps};
use crate::spreadsheet::Dialect;

impl FilmGrade {
    /// Name of the folder that holds the sheets of this film.
    pub fn sheet_folder(&self) -> &str {
        self.film.trim_end_matches(".png")
    }
}

impl PracticeGrade {
    /// One row per graded canal over all films, and per hand-in that could not
    /// be graded (CSV).
    pub fn table(&self, rubric: &Rubric, dialect: Dialect) -> Vec<u8> {
        let films = self.films.iter().map(|film| FilmRows {
            film: Some(&film.film),
            traces: &film.class.traces,
            refused: &film.class.refused,
        });
        let of_none = FilmRows {
            film: Some(""),
            traces: &[],
            refused: &self.refused,
        };
        csv::table(rubric, films.chain([of_none]), dialect)
    }

    /// Writes the feedback sheets into one folder per film below `folder`.
    /// `replace`: files of that name may go.
    ///
    /// # Errors
    /// One clear line: a film cannot be read or a folder not be made. A single
    /// sheet that cannot be written is listed and does not stop the others.
    pub fn write_sheets(
        &self,
        folder: &Path,
        replace: bool,
        progress: &Progress,
    ) -> Result<Sheets, String> {
        let total = self.films.iter().map(|film| film.class.traces.len()).sum();
        let steps = Steps::new(progress, total);
        let count = |_, _| steps.step();
        let progress = progress.reported_to(&count);
        let mut all = Sheets::default();
        for film in &self.films {
            let own = folder.join(film.sheet_folder());
            let sheets = feedback::write(&film.class, &film.film_path, &own, replace, &progress)?;
            all.written.extend(sheets.written);
            all.failed.extend(sheets.failed);
            all.cancelled |= sheets.cancelled;
        }
        Ok(all)
    }
}
