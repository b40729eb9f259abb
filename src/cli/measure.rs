//! `lengthfilm measure CASE… [--json]`

use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

use super::output::{CliError, print_json, print_text, report_error};
use crate::film::FilmCache;
use crate::measure::findings::Findings;
use crate::measure::{self, MeasureError, MeasureSettings};

#[derive(Debug, Args)]
pub struct Measure {
    /// Case files.
    #[arg(required = true, value_name = "CASE")]
    cases: Vec<PathBuf>,
    /// Print JSON: one object for one case, an array for several.
    #[arg(long)]
    json: bool,
}

impl Measure {
    /// Measures every case on all cores; a bad one is named on standard error
    /// and does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let outcomes = measured(&self.cases);
        let total = outcomes.len();
        let mut measured = Vec::with_capacity(total);
        for (_, outcome) in outcomes {
            match outcome {
                Ok(findings) => measured.push(findings),
                Err(error) if total == 1 => return Err(CliError::input(error)),
                Err(error) => report_error(&error),
            }
        }
        if self.json {
            match measured.as_slice() {
                [one] if total == 1 => print_json(one)?,
                several => print_json(&several)?,
            }
        } else {
            for findings in &measured {
                print_text(&measure::findings_text(findings))?;
            }
        }
        CliError::unless_all(total - measured.len(), total)
    }
}

/// What came of measuring each case, in their order, on all cores.
pub(super) fn measured(cases: &[PathBuf]) -> Vec<(PathBuf, Result<Findings, MeasureError>)> {
    let settings = MeasureSettings {
        stop_when_settled: cases.len() > 1,
        ..MeasureSettings::default()
    };
    let films = FilmCache::default();
    cases
        .par_iter()
        .map(|path| {
            let outcome = measure::measure_file(path, &films, &settings);
            (path.clone(), outcome)
        })
        .collect()
}
