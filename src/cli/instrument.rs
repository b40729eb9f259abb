//! `lengthfilm instrument CASE --file 25/.06 … [--tip-from-apex-mm 1] [--card FILE] [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json, print_text, report_error};
use crate::film::FilmCache;
use crate::instrumentation::{self, AssessError, FileRequest, Options};
use crate::report::{Existing, shaping_card};

#[derive(Debug, Args)]
pub struct Instrument {
    /// Case file.
    case: PathBuf,
    /// A file by size and taper (25/.06), with its working part where that is
    /// not 16 mm (25/.06/18), or by its diameters from the tip
    /// (0=0.25,3=0.43,16=0.86); a step-back in mm after a colon (30/.02:1).
    /// In the order of use; absent: the files listed in the case.
    #[arg(long = "file", value_name = "FILE")]
    files: Vec<String>,
    /// Only this canal.
    #[arg(long, value_name = "NAME")]
    canal: Option<String>,
    /// Where the tip of a file without step-back stands, mm from the apex;
    /// absent: where the working length ends.
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    tip_from_apex_mm: Option<f64>,
    /// Distance between the levels of the shaping card, mm.
    #[arg(long, value_name = "MM", default_value_t = 1.0)]
    step_mm: f64,
    /// Write the shaping card: .pdf, .html or .csv.
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// Replace a card that is already there.
    #[arg(long)]
    replace: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

impl Instrument {
    /// Assesses the files, prints the findings and writes the card.
    pub fn run(self) -> Result<(), CliError> {
        let options = Options {
            files: self
                .files
                .iter()
                .map(|text| FileRequest::parse(text))
                .collect::<Result<_, _>>()
                .map_err(|error| CliError::Input(format!("--file: {error}")))?,
            tip_from_apex_mm: self.tip_from_apex_mm,
            level_step_mm: self.step_mm,
            ..Options::default()
        };
        let assessment = instrumentation::assess_file(&self.case, &FilmCache::default(), &options);
        let mut findings = match assessment {
            Ok(assessment) => assessment.findings,
            Err(error @ AssessError::Measure(_)) => return Err(CliError::input(error)),
            Err(error) => return Err(CliError::at(&self.case, error)),
        };
        if let Some(name) = &self.canal {
            findings.keep_canal(name);
            if findings.canals.is_empty() {
                return Err(CliError::at(
                    &self.case,
                    format!("has no canal \"{name}\"; name one that it has"),
                ));
            }
        }
        if let Some(card) = &self.card {
            let existing = if self.replace {
                Existing::ReplaceNamed
            } else {
                Existing::Keep
            };
            shaping_card::write(&findings, card, existing).map_err(CliError::input)?;
            report_error(&card.display());
        }
        if self.json {
            print_json(&findings)
        } else {
            print_text(&instrumentation::findings_text(&findings))
        }
    }
}
