//! `lengthfilm progress TABLE.csv [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json, print_text};
use crate::learning::analysis::{Plan, analyse};
use crate::learning::{table, text};
use crate::spreadsheet::read_with_remark;

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 64 << 20;

#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct Progress {
    /// Table with the columns student, order, and passed (1 or 0) or error_mm;
    /// group may be there.
    table: PathBuf,
    /// Failure rate of an adequate student.
    #[arg(long, default_value_t = 0.1, value_name = "RATE")]
    adequate: f64,
    /// Failure rate of an inadequate student.
    #[arg(long, default_value_t = 0.3, value_name = "RATE")]
    inadequate: f64,
    /// Score at which competence is shown.
    #[arg(long, default_value_t = 1.25)]
    barrier: f64,
    /// Cases that the course plans for.
    #[arg(long, default_value_t = 30)]
    cases: usize,
    /// Errors up to this pass; a bias this large is inadequate.
    #[arg(long, value_name = "MM")]
    limit_mm: Option<f64>,
    /// Standard deviation of one error; else taken from the table.
    #[arg(long, value_name = "MM")]
    sd_mm: Option<f64>,
    /// Score that both charts of signed errors must reach.
    #[arg(long, default_value_t = 5.0, value_name = "BARRIER")]
    signed_barrier: f64,
    /// Difference between two groups that does not matter.
    #[arg(long, value_name = "DIFFERENCE")]
    equivalence: Option<f64>,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
}

impl Progress {
    /// Reads the table and prints its learning curves.
    pub fn run(self) -> Result<(), CliError> {
        let at = |reason: &dyn std::fmt::Display| CliError::at(&self.table, reason);
        if self
            .limit_mm
            .is_some_and(|limit| !(limit.is_finite() && limit > 0.0))
        {
            return Err(CliError::input("--limit-mm must be above 0"));
        }
        let read = read_with_remark(&self.table, MAX_TABLE_BYTES).map_err(|e| at(&e))?;
        let mut results = table::parse(&read.text, self.limit_mm).map_err(|e| at(&e))?;
        results.remarks.extend(read.remark.map(str::to_owned));
        let plan = Plan {
            adequate: self.adequate,
            inadequate: self.inadequate,
            barrier: self.barrier,
            cases: self.cases,
            limit_mm: self.limit_mm,
            sd_mm: self.sd_mm,
            signed_barrier: self.signed_barrier,
        };
        let progress = analyse(&results, &plan).map_err(CliError::input)?;
        match self.json {
            true => print_json(&progress),
            false => print_text(&text::text(&progress, self.equivalence)),
        }
    }
}
