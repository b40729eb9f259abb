//! `lengthfilm grade-shaping PAIRS.csv [--rubric FILE] [--json | --csv | --totals] [--sheets FOLDER]`

use std::path::{Path, PathBuf};

use clap::Args;

use super::before_after::Comparing;
use super::output::{CliError, print_bytes, print_json, print_text, report_error};
use crate::atomic_file;
use crate::grading::numbering::Numbering;
use crate::grading::totals;
use crate::progress::Progress;
use crate::shaping_class::{
    ClassSettings, ShapingClass, ShapingRubric, class_text, csv, grade_class, read_pairs,
};
use crate::shaping_record::PairSheets;
use crate::spreadsheet::{Dialect, read_with_remark};

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
    /// Print a table, one row per student, as learning platforms import it.
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    totals: bool,
    /// Semicolons and decimal commas in the table.
    #[arg(long, conflicts_with = "json")]
    semicolons: bool,
    /// Write a feedback sheet (PDF) per pair into this folder.
    #[arg(long, value_name = "FOLDER")]
    sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    replace: bool,
    /// Replace the names of students and files by numbers.
    #[arg(long)]
    numbers_for_names: bool,
    /// Write the list that tells whose the numbers are to this file.
    #[arg(long, value_name = "FILE", requires = "numbers_for_names")]
    key: Option<PathBuf>,
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
        let mut sheets = PairSheets::new(self.numbers_for_names);
        let mut class = grade_class(
            &rows,
            &settings,
            &Progress::unwatched(),
            |pair, comparison, films| {
                if self.sheets.is_some() {
                    sheets.add(pair, comparison, films);
                }
            },
        )
        .map_err(CliError::input)?;
        if self.numbers_for_names {
            let mut numbers = Numbering::default();
            class.numbers_for_names(&mut numbers);
            self.write_key(&numbers)?;
        }
        // Sheets first: whoever stops reading what is printed still has them.
        let unwritten = match &self.sheets {
            Some(folder) => write_pair_sheets(sheets, folder, self.replace)?.1,
            None => 0,
        };
        let printed = if self.json {
            print_json(&class)
        } else if self.csv {
            print_bytes(&csv(&class, self.dialect()))
        } else if self.totals {
            print_bytes(&totals::table(&class.totals, self.dialect()))
        } else {
            print_text(&class_text(&class))
        };
        report_refused_pairs(&class);
        printed?;
        CliError::unless_all(class.refused.len() + unwritten, rows.len())
    }

    fn dialect(&self) -> Dialect {
        Dialect {
            semicolons: self.semicolons,
            byte_order_mark: false,
        }
    }

    /// Writes whose the numbers are, where it is asked for.
    fn write_key(&self, numbers: &Numbering) -> Result<(), CliError> {
        let Some(path) = &self.key else {
            return Ok(());
        };
        let dialect = Dialect {
            byte_order_mark: true,
            ..self.dialect()
        };
        atomic_file::write(path, &numbers.key_table(dialect))
            .map_err(|error| CliError::at(path, atomic_file::reason(&error)))
    }
}

/// Writes the sheets and names those that failed; the files, and how many
/// failed.
pub fn write_pair_sheets(
    sheets: PairSheets,
    folder: &Path,
    replace: bool,
) -> Result<(Vec<PathBuf>, usize), CliError> {
    let sheets = sheets.write(folder, replace).map_err(CliError::input)?;
    for reason in &sheets.failed {
        report_error(reason);
    }
    Ok((sheets.written, sheets.failed.len()))
}

/// Names what could not be graded on standard error.
pub fn report_refused_pairs(class: &ShapingClass) {
    for refused in &class.refused {
        report_error(&format!("{}: {}", refused.student, refused.reason));
    }
}
