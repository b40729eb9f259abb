//! `lengthfilm report CASE… --out FILE-or-FOLDER`

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use super::output::{CliError, print_paths, report_burned_in, report_error};
use crate::measure::{self, FilmSummary, MeasureSettings};
use crate::report::{self, Existing, ExportOptions};

#[derive(Debug, Args)]
pub struct Report {
    /// Case files.
    #[arg(required = true, value_name = "CASE")]
    cases: Vec<PathBuf>,
    /// File to write, its kind by its ending: .pdf, .html, .csv, .png, .dcm.
    /// For several cases a pattern whose `{}` becomes the case's name.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Let the patient's name, ID and birth date of a DICOM film into the
    /// report.
    #[arg(long)]
    identity: bool,
    /// Name film and case by their files, which may hold the name of a patient;
    /// else by a label.
    #[arg(long)]
    file_names: bool,
    /// Replace a file that is already there, with the film beside a .dcm.
    #[arg(long)]
    replace: bool,
}

impl Report {
    /// Writes one report per case; a bad case is named on standard error and
    /// does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let total = self.cases.len();
        let written = self.write_all()?;
        CliError::unless_all(total - written, total)
    }

    /// A record of each case at `out`, without identity.
    pub(super) fn of_cases(cases: Vec<PathBuf>, out: PathBuf, replace: bool) -> Self {
        Self {
            cases,
            out,
            identity: false,
            file_names: false,
            replace,
        }
    }

    /// Writes the records and names what fails; how many cases have theirs.
    pub(super) fn write_all(&self) -> Result<usize, CliError> {
        let total = self.cases.len();
        if total > 1 && !self.out.to_string_lossy().contains("{}") {
            return Err(CliError::Input(format!(
                "{}: several cases need a pattern such as reports/{{}}.pdf",
                self.out.display()
            )));
        }
        self.refuse_shared_names()?;
        let outcomes: Vec<_> = self.cases.par_iter().map(|case| self.write(case)).collect();
        let mut failed = 0;
        let mut printed = Ok(());
        for outcome in outcomes {
            match outcome {
                Ok(written) => printed = printed.and_then(|()| print_paths(&written)),
                Err(error) if total == 1 => return Err(error),
                Err(error) => {
                    failed += 1;
                    report_error(&error);
                }
            }
        }
        printed?;
        Ok(total - failed)
    }

    /// No record may take the place of another of the same run.
    fn refuse_shared_names(&self) -> Result<(), CliError> {
        let mut writers: HashMap<PathBuf, &Path> = HashMap::new();
        for case in &self.cases {
            let out = self.out_for(case);
            if let Some(other) = writers.insert(out.clone(), case) {
                return Err(CliError::Input(format!(
                    "{}: the record of both {} and {}; write them to different folders",
                    out.display(),
                    other.display(),
                    case.display()
                )));
            }
        }
        Ok(())
    }

    fn write(&self, case_path: &Path) -> Result<Vec<PathBuf>, CliError> {
        let (case, opened) = measure::open_case(case_path).map_err(CliError::input)?;
        let name = case_path.display().to_string();
        let film = FilmSummary::from(&opened);
        let findings = measure::measure(&case, &film, &name, &MeasureSettings::default())
            .map_err(|error| CliError::at(case_path, error))?;
        report_burned_in(&opened);
        let out = self.out_for(case_path);
        let options = ExportOptions {
            include_identity: self.identity,
            include_file_names: self.file_names,
            existing: if self.replace {
                Existing::ReplaceNamed
            } else {
                Existing::Keep
            },
            ..ExportOptions::default()
        };
        report::write(&case, case_path, &opened, &findings, &out, &options).map_err(CliError::input)
    }

    /// The file to write for one case: `{}` becomes its name.
    fn out_for(&self, case_path: &Path) -> PathBuf {
        let file = case_path.file_name().unwrap_or_default().to_string_lossy();
        let name = file.strip_suffix(".case.json").unwrap_or(&file);
        PathBuf::from(self.out.to_string_lossy().replace("{}", name))
    }
}
