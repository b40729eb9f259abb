//! `lengthfilm agreement TABLE.csv [--json | --csv]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_bytes, print_json, print_text};
use crate::agreement::analysis::analyse_ratings;
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::table::{Gaps, RatingTable, SubjectColumn, TableSettings};
use crate::agreement::text;
use crate::spreadsheet::{Dialect, read_with_remark};

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 64 << 20;

#[derive(Debug, Args)]
pub struct Agreement {
    /// Table of subjects × raters: a header row, one row per subject.
    table: PathBuf,
    /// Heading of the column that names the subjects; else the first column
    /// is looked at.
    #[arg(long, value_name = "HEADING", conflicts_with = "no_subject")]
    subject: Option<String>,
    /// Every column is a rater.
    #[arg(long)]
    no_subject: bool,
    /// Leave out subjects that not every rater has rated, and say how many.
    #[arg(long)]
    complete: bool,
    /// The classes from least to most, for measures that count near misses.
    #[arg(long, value_name = "CLASS,CLASS…", value_delimiter = ',')]
    order: Vec<String>,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
    /// Print every number with its key as CSV.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Semicolons and decimal commas in the CSV.
    #[arg(long, requires = "csv")]
    semicolons: bool,
    /// Limits of agreement at ± 2 SD, as first published, instead of ± 1.96.
    #[arg(long)]
    two_sd: bool,
}

impl Agreement {
    /// Reads the table and prints its agreement statistics.
    pub fn run(self) -> Result<(), CliError> {
        let at = |reason: &dyn std::fmt::Display| CliError::at(&self.table, reason);
        let read = read_with_remark(&self.table, MAX_TABLE_BYTES).map_err(|e| at(&e))?;
        let convention = if self.two_sd {
            LimitConvention::TwoSd
        } else {
            LimitConvention::Normal196
        };
        let settings = TableSettings {
            subject_column: match &self.subject {
                Some(heading) => SubjectColumn::Named(heading.clone()),
                None if self.no_subject => SubjectColumn::None,
                None => SubjectColumn::Detect,
            },
            gaps: match self.complete {
                true => Gaps::LeaveOut,
                false => Gaps::Refuse,
            },
            ..TableSettings::default()
        };
        let mut table = RatingTable::parse(&read.text, settings).map_err(|e| at(&e))?;
        table.remarks.extend(read.remark.map(str::to_owned));
        let analysis = analyse_ratings(&table, convention, &self.order);
        let dialect = Dialect {
            semicolons: self.semicolons,
            byte_order_mark: false,
        };
        match (self.json, self.csv) {
            (true, _) => print_json(&analysis),
            (_, true) => print_bytes(&text::table(&analysis, dialect)),
            _ => print_text(&text::text(&analysis)),
        }
    }
}
