//! `lengthfilm grade-shaping PAIRS.csv [--rubric FILE] [--json | --csv] [--sheets FOLDER]`

use std::path::{Path, PathBuf};

use clap::Args;

use super::before_after::Comparing;
use super::output::{CliError, print_bytes, print_json, print_text, report_error};
use crate::progress::Progress;
use crate::shaping_class::{
    ClassSettings, GradedPair, ShapingRubric, class_text, csv, grade_class, read_pairs,
};
use crate::spreadsheet::{Dialect, read_with_remark};
use crate::{atomic_file, feedback, report, shaping_record};

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 16 << 20;

#[derive(Debug, Args)]
pub struct GradeShaping {
    /// Table with the columns before and after (cases, seen from the table's
    /// folder) and, if wanted, student and group.
    #[arg(required_unless_present = "starter_rubric")]
    pairs: Option<PathBuf>,
    /// Limits to grade by (docs/before-after.md); the built-in ones when
    /// absent.
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Print the built-in rubric, to be changed and given to --rubric.
    #[arg(long, exclusive = true)]
    starter_rubric: bool,
    #[command(flatten)]
    comparing: Comparing,
    /// Print JSON.
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print a table, one row per canal and line of the rubric.
    #[arg(long)]
    csv: bool,
    /// Semicolons and decimal commas in the table.
    #[arg(long, requires = "csv")]
    semicolons: bool,
    /// Write a feedback sheet (PDF) per pair into this folder.
    #[arg(long, value_name = "FOLDER")]
    sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    replace: bool,
}

impl GradeShaping {
    /// Grades the class; a pair that cannot be graded is named on standard
    /// error and does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let Some(table) = &self.pairs else {
            return print_text(&ShapingRubric::default().to_json());
        };
        let settings = ClassSettings {
            rubric: match &self.rubric {
                Some(path) => ShapingRubric::load(path).map_err(CliError::input)?,
                None => ShapingRubric::default(),
            },
            shaping: self.comparing.settings()?,
            follow_walls: self.comparing.follow_walls,
        };
        let at = |reason: &dyn std::fmt::Display| CliError::at(table, reason);
        let read = read_with_remark(table, MAX_TABLE_BYTES).map_err(|e| at(&e))?;
        let folder = table.parent().unwrap_or(Path::new(""));
        let rows = read_pairs(&read.text, folder).map_err(|e| at(&e))?;
        let mut sheets = Vec::new();
        let class = grade_class(
            &rows,
            &settings,
            &Progress::unwatched(),
            |pair, comparison, films| {
                if self.sheets.is_some() {
                    let sheet = shaping_record::graded_sheet(comparison, films, pair);
                    sheets.push(report::pdf_bytes(&sheet));
                }
            },
        )
        .map_err(CliError::input)?;
        // Sheets first: whoever stops reading what is printed still has them.
        let unwritten = self.write_sheets(&class.pairs, sheets)?;
        let printed = if self.json {
            print_json(&class)
        } else if self.csv {
            let dialect = Dialect {
                semicolons: self.semicolons,
                byte_order_mark: false,
            };
            print_bytes(&csv(&class, dialect))
        } else {
            print_text(&class_text(&class))
        };
        for refused in &class.refused {
            report_error(&format!("{}: {}", refused.student, refused.reason));
        }
        printed?;
        CliError::unless_all(class.refused.len() + unwritten, rows.len())
    }

    /// How many sheets could not be written; each has had its line.
    fn write_sheets(
        &self,
        pairs: &[GradedPair],
        sheets: Vec<Result<Vec<u8>, String>>,
    ) -> Result<usize, CliError> {
        let Some(folder) = &self.sheets else {
            return Ok(0);
        };
        std::fs::create_dir_all(folder)
            .map_err(|error| CliError::at(folder, atomic_file::reason(&error)))?;
        let names = feedback::file_names(pairs.iter().map(|pair| pair.student.as_str()));
        let mut failed = 0;
        for (name, sheet) in names.iter().zip(sheets) {
            let path = folder.join(name);
            if let Err(error) = self.write_sheet(&path, sheet) {
                report_error(&error);
                failed += 1;
            }
        }
        Ok(failed)
    }

    fn write_sheet(&self, path: &Path, sheet: Result<Vec<u8>, String>) -> Result<(), CliError> {
        if !self.replace && path.symlink_metadata().is_ok() {
            return Err(CliError::at(
                path,
                "exists already and is kept; give --replace",
            ));
        }
        let bytes = sheet.map_err(|reason| CliError::at(path, reason))?;
        atomic_file::write(path, &bytes)
            .map_err(|error| CliError::at(path, atomic_file::reason(&error)))
    }
}
