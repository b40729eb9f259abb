//! `lengthfilm archive measure|report`: the cases about the films of studies.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::connection::Connection;
use super::find::Asked;
use super::get::{Coming, as_json, remarks};
use super::watched::watched;
use crate::archive::{self, FilmsFolder, Keep, Settings};
use crate::case::{CasesOfFilms, cases_of_films};
use crate::cli::measure::measured;
use crate::cli::output::{CliError, print_json, print_text, report_error};
use crate::cli::report::Report;
use crate::film::OpenLimits;
use crate::measure;

/// Which films, and where they and their cases are.
#[derive(Debug, Args)]
struct Films {
    #[command(flatten)]
    connection: Connection,
    #[command(flatten)]
    asked: Asked,
    /// Study Instance UID, in place of a search.
    #[arg(long, value_name = "UID")]
    study: Option<String>,
    /// Folder the films come to, without names; those that are there are not
    /// fetched again.
    #[arg(long, value_name = "FOLDER")]
    films: PathBuf,
    /// Folder with the cases, also below it; else that of the films.
    #[arg(long, value_name = "FOLDER")]
    cases: Option<PathBuf>,
    #[command(flatten)]
    coming: Coming,
}

/// Measure the cases about the films of studies.
#[derive(Debug, Args)]
pub(super) struct MeasureStudies {
    #[command(flatten)]
    films: Films,
}

/// Write a record of each case about the films of studies.
#[derive(Debug, Args)]
pub(super) struct ReportStudies {
    #[command(flatten)]
    films: Films,
    /// File to write for each case: a pattern whose `{}` becomes the case's
    /// name, its kind by its ending: .pdf, .html, .csv, .png, .dcm.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Replace files that are already there.
    #[arg(long)]
    replace: bool,
}

/// Films that are here now, and the cases about them.
struct Gathered {
    studies: usize,
    films: Vec<PathBuf>,
    fetched: usize,
    warnings: Vec<(&'static str, String)>,
    of_films: CasesOfFilms,
}

impl Films {
    fn study_uids(&self, settings: &Settings) -> Result<Vec<String>, CliError> {
        if let Some(study) = &self.study {
            return Ok(vec![study.clone()]);
        }
        if self.asked.is_everything() {
            return Err(CliError::Input(
                "every study of the archive would be fetched; name some with --date today, --patient, --modality or --study".to_owned(),
            ));
        }
        let mut uids = Vec::new();
        watched("study", |watch| {
            let mut each = |study: archive::StudyEntry| {
                uids.push(study.study_instance_uid);
                true
            };
            archive::find_studies(settings, &self.asked.query(), &mut each, watch)
        })
        .map_err(CliError::input)?;
        Ok(uids)
    }

    /// Fetches what is not here yet and looks for the cases.
    fn gather(&self) -> Result<Gathered, CliError> {
        let settings = self.connection.settings()?;
        let studies = self.study_uids(&settings)?;
        let mut folder =
            FilmsFolder::new(&self.films, Keep::WithoutIdentity).map_err(CliError::input)?;
        let (mut films, mut fetched, mut not_sent) = (Vec::new(), 0, 0);
        for study in &studies {
            let outcome = self.coming.fetch(&settings, study, &[], &mut folder)?;
            fetched += outcome.fetched;
            not_sent += outcome.not_sent;
            let listed = watched("", |watch| archive::find_films(&settings, study, watch))
                .map_err(CliError::input)?;
            let paths = listed
                .iter()
                .map(|film| folder.path_of(&film.sop_instance_uid));
            films.extend(paths.filter(|path| path.is_file()));
        }
        let cases = self.cases.as_ref().unwrap_or(&self.films);
        let of_films = cases_of_films(cases, &films, OpenLimits::default().max_bytes())
            .map_err(|error| CliError::unread(cases, &error))?;
        Ok(Gathered {
            studies: studies.len(),
            films,
            fetched,
            warnings: remarks(not_sent, &folder),
            of_films,
        })
    }
}

impl Gathered {
    /// What every run ends with; `done` says what became of the cases.
    fn summary(&self, done: &str) -> String {
        let mut text = String::new();
        for film in &self.of_films.without_case {
            text += &format!("no case yet: {}\n", film.display());
        }
        let there = self.films.len().saturating_sub(self.fetched);
        text + &format!(
            "{} studies, {} films ({} fetched, {there} here before): {done}, {} films without a case\n",
            self.studies,
            self.films.len(),
            self.fetched,
            self.of_films.without_case.len()
        )
    }

    /// Says on standard error what hinders but stops nothing.
    fn report(&self) {
        for (_, text) in &self.warnings {
            report_error(text);
        }
        for (_, reason) in &self.of_films.unread {
            report_error(reason);
        }
    }
}

impl MeasureStudies {
    /// Measures every case; a bad one is named and does not stop the others.
    pub fn run(self) -> Result<(), CliError> {
        let gathered = self.films.gather()?;
        let unread = &gathered.of_films.unread;
        let mut refused: Vec<(PathBuf, String)> = unread.clone();
        let mut findings = Vec::new();
        for (path, outcome) in measured(&gathered.of_films.cases) {
            match outcome {
                Ok(found) => findings.push(found),
                Err(error) => refused.push((path, error.to_string())),
            }
        }
        let total = findings.len() + refused.len();
        if self.films.connection.json {
            let refused: Vec<_> = refused
                .iter()
                .map(|(case, reason)| json!({ "case": case, "reason": reason }))
                .collect();
            print_json(&json!({
                "studies": gathered.studies, "films": gathered.films,
                "fetched": gathered.fetched, "measured": findings, "refused": refused,
                "without_case": gathered.of_films.without_case,
                "warnings": as_json(&gathered.warnings),
            }))?;
        } else {
            for found in &findings {
                print_text(&measure::findings_text(found))?;
            }
            for (_, text) in &gathered.warnings {
                report_error(text);
            }
            for (_, reason) in &refused {
                report_error(reason);
            }
            let done = format!(
                "{} cases measured, {} refused",
                findings.len(),
                refused.len()
            );
            print_text(&gathered.summary(&done))?;
        }
        CliError::unless_all(refused.len(), total)
    }
}

impl ReportStudies {
    /// Writes one record per case; a bad one is named and does not stop the
    /// others.
    pub fn run(self) -> Result<(), CliError> {
        let gathered = self.films.gather()?;
        gathered.report();
        let (cases, unread) = (&gathered.of_films.cases, &gathered.of_films.unread);
        let total = cases.len() + unread.len();
        let written = match cases.is_empty() {
            true => 0,
            false => Report::of_cases(cases.clone(), self.out, self.replace).write_all()?,
        };
        let done = format!("{written} records written, {} refused", total - written);
        print_text(&gathered.summary(&done))?;
        CliError::unless_all(total - written, total)
    }
}
