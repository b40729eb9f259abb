//! `lengthfilm grade --reference CASE… --traces CASE-or-FOLDER… [--json | --csv] [--sheets FOLDER]`

use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use clap::Args;

use super::output::{CliError, print_json, print_text};
use crate::feedback;
use crate::grading::class::Watch;
use crate::grading::csv;
use crate::grading::files::grade_files;
use crate::grading::rubric::Rubric;

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("form").required(true).multiple(true).args(["json", "csv", "sheets"])))]
pub struct Grade {
    /// Case of the expert; several give their consensus.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE")]
    reference: Vec<PathBuf>,
    /// Cases to grade, or folders of them.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE-or-FOLDER")]
    traces: Vec<PathBuf>,
    /// Limits to grade by (docs/grading.md); the built-in ones when absent.
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Print JSON: every trace and the class.
    #[arg(long)]
    json: bool,
    /// Print CSV: one row per graded canal.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Write a feedback sheet (PDF) per trace into this folder.
    #[arg(long, value_name = "FOLDER")]
    sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    replace: bool,
    /// Replace the names of students and files by numbers.
    #[arg(long)]
    numbers_for_names: bool,
}

impl Grade {
    /// Grades the class; a trace that cannot be graded is named on standard
    /// error and does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let rubric = match &self.rubric {
            Some(path) => Rubric::load(path).map_err(CliError::input)?,
            None => Rubric::default(),
        };
        let never = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_, _| {},
            cancel: &never,
        };
        let mut class =
            grade_files(&self.reference, &self.traces, &rubric, &watch).map_err(CliError::input)?;
        let film = PathBuf::from(&class.reference.film);
        if self.numbers_for_names {
            class.numbers_for_names();
        }
        if self.csv {
            print_text(&csv::table(&rubric, &class.traces))?;
        } else if self.json {
            print_json(&class)?;
        }
        for refused in &class.refused {
            eprintln!("lengthfilm: {}", refused.reason);
        }
        let mut failed = class.refused.len();
        if let Some(folder) = &self.sheets {
            let sheets = feedback::write(&class, &film, folder, self.replace, &watch)
                .map_err(CliError::input)?;
            for reason in &sheets.failed {
                eprintln!("lengthfilm: {reason}");
            }
            failed += sheets.failed.len();
            if !(self.json || self.csv) {
                for path in &sheets.written {
                    print_text(&format!("{}\n", path.display()))?;
                }
            }
        }
        match failed {
            0 => Ok(()),
            failed => Err(CliError::Some {
                failed,
                total: class.refused.len() + class.traces.len(),
            }),
        }
    }
}
