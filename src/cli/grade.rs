//! `lengthfilm grade --reference CASE… --traces CASE-or-FOLDER… [--json | --csv] [--sheets FOLDER]`

use std::path::PathBuf;

use clap::Args;

use super::grading::Grading;
use super::output::{CliError, report_error};
use crate::grading::csv::{self, FilmRows};
use crate::grading::files::grade_hand_ins;
use crate::grading::numbering::Numbering;
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
        let roster = grading.roster()?;
        let traces = &grading.traces;
        let mut class = grade_hand_ins(
            &self.reference,
            traces,
            &roster,
            &rubric,
            &Progress::unwatched(),
        )
        .map_err(CliError::input)?;
        let film = PathBuf::from(&class.reference.film);
        if grading.numbers_for_names {
            let mut numbers = Numbering::default();
            class.numbers_for_names_among(&mut numbers);
            grading.write_key(&numbers)?;
        }
        let rows = || FilmRows {
            film: None,
            traces: &class.traces,
            refused: &class.refused,
        };
        // Sheets first: whoever stops reading what is printed still has them.
        let sheets = grading.write_sheets(&class, &film, "")?;
        let table = |dialect| csv::table(&rubric, [rows()], dialect);
        let printed = grading.print(&class, table, &class.students, &sheets.written);
        let mut failed = 0;
        for refused in &class.refused {
            report_error(&refused.line());
            failed += usize::from(refused.is_file());
        }
        printed?;
        let unwritten = sheets.failed.len();
        CliError::unless_all(failed + unwritten, failed + class.traces.len())
    }
}
