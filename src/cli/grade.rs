//! `lengthfilm grade --reference CASE… --traces CASE-or-FOLDER… (--json | --csv)`

use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use clap::Args;

use super::output::{CliError, print_json, print_text};
use crate::grading::class::Watch;
use crate::grading::csv;
use crate::grading::files::grade_files;
use crate::grading::rubric::Rubric;

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("form").required(true).args(["json", "csv"])))]
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
    #[arg(long)]
    csv: bool,
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
        if self.numbers_for_names {
            class.numbers_for_names();
        }
        if self.csv {
            print_text(&csv::table(&rubric, &class.traces))?;
        } else {
            print_json(&class)?;
        }
        for refused in &class.refused {
            eprintln!("lengthfilm: {}", refused.reason);
        }
        match class.refused.len() {
            0 => Ok(()),
            failed => Err(CliError::Some {
                failed,
                total: failed + class.traces.len(),
            }),
        }
    }
}
