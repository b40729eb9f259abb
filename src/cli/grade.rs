//! `lengthfilm grade --reference CASE… --traces CASE-or-FOLDER… [--json | --csv] [--sheets FOLDER]`

use std::path::PathBuf;

use clap::Args;

use super::grading::Grading;
use super::output::{CliError, report_error};
use crate::grading::csv;
use crate::grading::files::grade_files;
use crate::progress::Progress;

#[derive(Debug, Args)]
pub struct Grade {
    /// Case of the expert; several give their consensus.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE")]
    reference: Vec<PathBuf>,
    #[command(flatten)]
    grading: Grading,
}

impl Grade {
    /// Grades the class; a trace that cannot be graded is named on standard
    /// error and does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let grading = &self.grading;
        let rubric = grading.rubric()?;
        let mut class = grade_files(
            &self.reference,
            &grading.traces,
            &rubric,
            &Progress::unwatched(),
        )
        .map_err(CliError::input)?;
        let film = PathBuf::from(&class.reference.film);
        if grading.numbers_for_names {
            class.numbers_for_names();
        }
        // Sheets first: whoever stops reading what is printed still has them.
        let sheets = grading.write_sheets(&class, &film, "")?;
        let table = || csv::table(&rubric, &class.traces);
        let printed = grading.print(&class, table, &sheets.written);
        for refused in &class.refused {
            report_error(&refused.reason);
        }
        printed?;
        let total = class.refused.len() + class.traces.len();
        CliError::unless_all(class.refused.len() + sheets.failed.len(), total)
    }
}
