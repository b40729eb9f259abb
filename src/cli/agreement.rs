//! `lengthfilm agreement TABLE.csv [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json};
use crate::agreement::analysis::analyse_table;
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::table::TableSettings;
use crate::input_file;

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 64 << 20;

#[derive(Debug, Args)]
pub struct Agreement {
    /// Table of subjects × raters: a header row, one row per subject.
    table: PathBuf,
    /// Print JSON (the only form there is).
    #[arg(long)]
    json: bool,
    /// Limits of agreement at ± 2 SD, as first published, instead of ± 1.96.
    #[arg(long)]
    two_sd: bool,
}

impl Agreement {
    /// Reads the table and prints its agreement statistics.
    pub fn run(self) -> Result<(), CliError> {
        let bytes = std::fs::metadata(&self.table)
            .map_err(|e| CliError::unread(&self.table, &e))?
            .len();
        if bytes > MAX_TABLE_BYTES {
            return Err(CliError::at(
                &self.table,
                "too large for a table; was another file meant?",
            ));
        }
        let text = input_file::read_text(&self.table, MAX_TABLE_BYTES)
            .map_err(|e| CliError::unread(&self.table, &e))?;
        let convention = if self.two_sd {
            LimitConvention::TwoSd
        } else {
            LimitConvention::Normal196
        };
        let analysis = analyse_table(&text, TableSettings::default(), convention);
        print_json(&analysis.map_err(|e| CliError::at(&self.table, e))?)
    }
}
