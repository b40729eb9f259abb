//! What `grade` and `exercise grade` share: traces and rubric in, tables and
//! feedback sheets out.

use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use serde::Serialize;

use super::output::{CliError, print_bytes, print_json, print_paths, report_error};
use crate::atomic_file;
use crate::feedback::{self, Sheets};
use crate::grading::files::ClassGrade;
use crate::grading::numbering::Numbering;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;
use crate::grading::totals::{self, StudentTotal};
use crate::progress::Progress;
use crate::spreadsheet::Dialect;

/// Options of every grading command.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("form").required(true).multiple(true).args(["json", "csv", "totals", "sheets"])))]
pub struct Grading {
    /// Cases to grade, or folders of them.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE-or-FOLDER")]
    pub traces: Vec<PathBuf>,
    /// Limits to grade by (docs/grading.md); the built-in ones when absent.
    #[arg(long, value_name = "FILE")]
    pub rubric: Option<PathBuf>,
    /// Print JSON: every trace and the class; of an exercise set every film with
    /// its traces, and every student.
    #[arg(long)]
    json: bool,
    /// Print CSV: one row per graded canal and per hand-in not graded.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Print CSV: one row per student, as learning platforms import it.
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    totals: bool,
    /// Write the table to this file, with the byte order mark that
    /// spreadsheets know UTF-8 by, instead of printing it.
    #[arg(long, value_name = "FILE", conflicts_with = "json")]
    out: Option<PathBuf>,
    /// Semicolons and decimal commas in the table.
    #[arg(long, conflicts_with = "json")]
    semicolons: bool,
    /// List of the students: a name a line, or a table with the columns
    /// student and excused. Who is on it and handed nothing in is told.
    #[arg(long, value_name = "FILE")]
    students: Option<PathBuf>,
    /// Write a feedback sheet (PDF) per trace into this folder; of an exercise
    /// set into one subfolder per film. Of blocks: one per pair.
    #[arg(long, value_name = "FOLDER")]
    pub sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    pub replace: bool,
    /// Replace the names of students and files by numbers.
    #[arg(long)]
    pub numbers_for_names: bool,
    /// Write the list that tells whose the numbers are to this file.
    #[arg(long, value_name = "FILE", requires = "numbers_for_names")]
    key: Option<PathBuf>,
}

impl Grading {
    /// The limits to grade by.
    pub fn rubric(&self) -> Result<Rubric, CliError> {
        match &self.rubric {
            Some(path) => Rubric::load(path).map_err(CliError::input),
            None => Ok(Rubric::default()),
        }
    }

    /// The students of the class, where they are listed.
    pub fn roster(&self) -> Result<Roster, CliError> {
        match &self.students {
            Some(path) => Roster::load(path).map_err(CliError::input),
            None => Ok(Roster::default()),
        }
    }

    /// Prints the whole as JSON or as one of the tables, as asked for, else the
    /// names of the `sheets` written.
    pub fn print(
        &self,
        whole: &impl Serialize,
        table: impl FnOnce(Dialect) -> Vec<u8>,
        students: &[StudentTotal],
        sheets: &[PathBuf],
    ) -> Result<(), CliError> {
        let dialect = Dialect {
            semicolons: self.semicolons,
            byte_order_mark: self.out.is_some(),
        };
        let bytes = if self.json {
            return print_json(whole);
        } else if self.csv {
            table(dialect)
        } else if self.totals {
            totals::table(students, dialect)
        } else {
            return print_paths(sheets);
        };
        match &self.out {
            Some(path) => write_file(path, &bytes),
            None => print_bytes(&bytes),
        }
    }

    /// Writes the list of numbers and names, where it is asked for.
    pub fn write_key(&self, numbers: &Numbering) -> Result<(), CliError> {
        match &self.key {
            Some(path) => {
                let dialect = Dialect {
                    semicolons: self.semicolons,
                    byte_order_mark: true,
                };
                write_file(path, &numbers.key_table(dialect))
            }
            None => Ok(()),
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

fn write_file(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    atomic_file::write(path, bytes).map_err(|error| {
        let reason = atomic_file::reason(&error);
        CliError::at(path, format!("cannot be written: {reason}"))
    })
}
