//! What `grade` and `practice grade` share: traces and rubric in, tables and
//! feedback sheets out.

use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use serde::Serialize;

use super::output::{CliError, print_json, print_paths, print_text, report_error};
use crate::feedback::{self, Sheets};
use crate::grading::files::ClassGrade;
use crate::grading::rubric::Rubric;
use crate::progress::Progress;

/// Options of every grading command.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("form").required(true).multiple(true).args(["json", "csv", "sheets"])))]
pub struct Grading {
    /// Cases to grade, or folders of them.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE-or-FOLDER")]
    pub traces: Vec<PathBuf>,
    /// Limits to grade by (docs/grading.md); the built-in ones when absent.
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Print JSON: every trace and the class; of a practice set every film with
    /// its traces, and every student.
    #[arg(long)]
    json: bool,
    /// Print CSV: one row per graded canal.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Write a feedback sheet (PDF) per trace into this folder; of a practice
    /// set into one subfolder per film.
    #[arg(long, value_name = "FOLDER")]
    sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    replace: bool,
    /// Replace the names of students and files by numbers.
    #[arg(long)]
    pub numbers_for_names: bool,
}

impl Grading {
    /// The limits to grade by.
    pub fn rubric(&self) -> Result<Rubric, CliError> {
        match &self.rubric {
            Some(path) => Rubric::load(path).map_err(CliError::input),
            None => Ok(Rubric::default()),
        }
    }

    /// Prints the whole as JSON or as the `table`, as asked for, else the names
    /// of the `sheets` written.
    pub fn print(
        &self,
        whole: &impl Serialize,
        table: impl FnOnce() -> String,
        sheets: &[PathBuf],
    ) -> Result<(), CliError> {
        if self.json {
            print_json(whole)
        } else if self.csv {
            print_text(&table())
        } else {
            print_paths(sheets)
        }
    }

    /// Writes the sheets of one class where they are asked for, into the folder
    /// or a subfolder of it, and names those that failed. `film` is where the
    /// reference's film lies.
    pub fn write_sheets(
        &self,
        class: &ClassGrade,
        film: &Path,
        subfolder: &str,
    ) -> Result<Sheets, CliError> {
        let Some(folder) = &self.sheets else {
            return Ok(Sheets::default());
        };
        let folder = match subfolder {
            "" => folder.clone(),
            name => folder.join(name),
        };
        let sheets = feedback::write(class, film, &folder, self.replace, &Progress::unwatched())
            .map_err(CliError::input)?;
        for reason in &sheets.failed {
            report_error(&reason);
        }
        Ok(sheets)
    }
}
