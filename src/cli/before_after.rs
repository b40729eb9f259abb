//! `lengthfilm before-after CASE-A CASE-B [--step-mm 1] [--follow-walls] [--limits FILE] [--json | --csv | --out FILE]`

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{CliError, print_json, print_text};
use crate::shaping::{self, AberrationLimits, ShapingSettings};
use crate::shaping_record;
use crate::{atomic_file, input_file};

/// How two pictures are compared.
#[derive(Debug, Args)]
pub struct Comparing {
    /// Distance between the levels, mm.
    #[arg(long, default_value_t = 1.0, value_name = "MM")]
    step_mm: f64,
    /// Follow the walls on the pictures along the trace where a case has none.
    #[arg(long)]
    pub follow_walls: bool,
    /// Move the marks of the second picture to where the pictures themselves
    /// show them: for marks that look alike on both, as on scans of a block.
    #[arg(long)]
    match_marks: bool,
    /// Limits of the findings (zip, ledge, thin wall …): JSON, see
    /// docs/before-after.md.
    #[arg(long, value_name = "FILE")]
    limits: Option<PathBuf>,
    /// Monte Carlo draws.
    #[arg(long, default_value_t = ShapingSettings::default().draws, value_name = "N")]
    draws: usize,
}

impl Comparing {
    /// As asked for.
    pub fn settings(&self) -> Result<ShapingSettings, CliError> {
        if !(100..=1_000_000).contains(&self.draws) {
            return Err(CliError::Input(format!(
                "draws (--draws): {} is not possible; give a number from 100 to 1000000",
                self.draws
            )));
        }
        let mut settings = ShapingSettings {
            step_mm: self.step_mm,
            draws: self.draws,
            match_marks: self.match_marks,
            ..ShapingSettings::default()
        };
        settings.measure.draws = self.draws;
        if let Some(path) = &self.limits {
            settings.limits = read_limits(path)?;
        }
        Ok(settings)
    }
}

#[derive(Debug, Args)]
pub struct BeforeAfter {
    /// Case before shaping: marks, the canal's trace, its walls.
    before: PathBuf,
    /// Case after shaping: the same marks, the canal's trace, its walls.
    after: PathBuf,
    #[command(flatten)]
    comparing: Comparing,
    /// Print JSON.
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print a table, one row per level.
    #[arg(long)]
    csv: bool,
    /// Write a record as well, its kind by its ending: .pdf, .html, .csv, and of
    /// two DICOM films .dcm (needs --identity).
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The record may name the patient and the study.
    #[arg(long, requires = "out")]
    identity: bool,
    /// Replace a record that is already there.
    #[arg(long)]
    replace: bool,
}

impl BeforeAfter {
    /// Compares the two cases and prints what shaping did.
    pub fn run(self) -> Result<(), CliError> {
        let settings = self.comparing.settings()?;
        if let Some(out) = &self.out
            && !self.replace
            && out.symlink_metadata().is_ok()
        {
            return Err(CliError::at(
                out,
                "exists already and is kept; choose another name or give --replace",
            ));
        }
        let (comparison, films) = shaping::compare_files(
            &self.before,
            &self.after,
            &settings,
            self.comparing.follow_walls,
        )
        .map_err(CliError::input)?;
        if let Some(out) = &self.out {
            let bytes = shaping_record::bytes(&comparison, &films, out, self.identity)
                .map_err(CliError::input)?;
            atomic_file::write(out, &bytes)
                .map_err(|error| CliError::at(out, atomic_file::reason(&error)))?;
        }
        let findings = &comparison.findings;
        if self.json {
            print_json(findings)
        } else if self.csv {
            print_text(&String::from_utf8_lossy(&shaping::csv(findings)))
        } else {
            print_text(&shaping::findings_text(findings))
        }
    }
}

/// Largest file of limits read, bytes.
const MAX_LIMITS_BYTES: u64 = 1 << 20;

fn read_limits(path: &Path) -> Result<AberrationLimits, CliError> {
    let bytes =
        input_file::read(path, MAX_LIMITS_BYTES).map_err(|error| CliError::unread(path, &error))?;
    let limits: AberrationLimits =
        serde_json::from_slice(&bytes).map_err(|error| CliError::at(path, error))?;
    limits.check().map_err(|error| CliError::at(path, error))?;
    Ok(limits)
}
