//! `lengthfilm archive find`

use clap::Args;
use serde_json::json;

use super::connection::Connection;
use super::watched::watched;
use crate::archive::{self, FindEnd, Settings, StudyEntry, StudyQuery};
use crate::cli::output::{CliError, print_json, print_text, report_error};

/// Which studies are asked for.
#[derive(Debug, Args)]
pub(super) struct Asked {
    /// Patient's name, `Family^Given`; * and ? are wildcards.
    #[arg(long, value_name = "NAME")]
    patient: Option<String>,
    /// Patient ID; * and ? are wildcards.
    #[arg(long, value_name = "ID")]
    patient_id: Option<String>,
    /// A day or a range: 2026-03-14, 20260301-20260331, today.
    #[arg(long, value_parser = archive::date_range, allow_hyphen_values = true)]
    date: Option<String>,
    /// Only studies with one of these.
    #[arg(long, value_delimiter = ',', value_name = "IO,DX,CR,PX")]
    modality: Vec<String>,
    /// Accession number; * and ? are wildcards.
    #[arg(long, value_name = "NUMBER")]
    accession: Option<String>,
}

impl Asked {
    /// Nothing was named: every study would be meant.
    pub fn is_everything(&self) -> bool {
        let texts = [&self.patient, &self.patient_id, &self.date, &self.accession];
        texts.iter().all(|text| text.is_none()) && self.modality.is_empty()
    }

    pub fn query(&self) -> StudyQuery {
        let or_all = |text: &Option<String>| text.clone().unwrap_or_default();
        StudyQuery {
            patient_name: or_all(&self.patient),
            patient_id: or_all(&self.patient_id),
            study_date: or_all(&self.date),
            modalities: self.modality.iter().map(|m| m.to_uppercase()).collect(),
            accession_number: or_all(&self.accession),
            study_instance_uid: String::new(),
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct Find {
    #[command(flatten)]
    connection: Connection,
    #[command(flatten)]
    asked: Asked,
    /// List the films of this study (Study Instance UID) instead.
    #[arg(long, value_name = "UID")]
    study: Option<String>,
    /// Stop after so many studies.
    #[arg(long, value_name = "N")]
    limit: Option<usize>,
}

impl Find {
    pub fn run(self) -> Result<(), CliError> {
        let settings = self.connection.settings()?;
        match &self.study {
            Some(study) => self.films(&settings, study),
            None => self.studies(&settings),
        }
    }

    fn films(&self, settings: &Settings, study: &str) -> Result<(), CliError> {
        let films = watched("", |watch| archive::find_films(settings, study, watch))
            .map_err(CliError::input)?;
        if self.connection.json {
            return print_json(&json!({ "films": films, "warnings": [] }));
        }
        for film in &films {
            print_text(&format!(
                "{}  {}  {}\n",
                film.date.as_deref().unwrap_or("no date   "),
                film.modality.as_deref().unwrap_or("--"),
                film.sop_instance_uid
            ))?;
        }
        Ok(())
    }

    /// Prints every study as it arrives.
    fn studies(&self, settings: &Settings) -> Result<(), CliError> {
        let query = self.asked.query();
        let as_json = self.connection.json;
        let mut printed: Result<(), CliError> = Ok(());
        let mut count = 0;
        if as_json {
            print_text("{\"studies\": [")?;
        }
        let limit = self.limit.unwrap_or(usize::MAX);
        let mut each = |study: StudyEntry| {
            let text = match as_json {
                true => {
                    let comma = if count > 0 { "," } else { "" };
                    let row = serde_json::to_string(&study).unwrap_or_default();
                    format!("{comma}\n  {row}")
                }
                false => study_line(&study),
            };
            printed = print_text(&text);
            count += 1;
            printed.is_ok() && count < limit
        };
        let end = watched("", |watch| {
            archive::find_studies(settings, &query, &mut each, watch)
        });
        printed?;
        if as_json {
            let warnings = match &end {
                Ok(FindEnd::Complete) => vec![],
                Ok(FindEnd::Enough) => vec![json!({
                    "code": "list_cut", "text": format!("the list ends after {count}; there may be more")
                })],
                Err(error) => vec![json!({ "code": "list_broken", "text": error.to_string() })],
            };
            print_text(&format!("\n], \"warnings\": {}}}\n", json!(warnings)))?;
        }
        match end.map_err(CliError::input)? {
            FindEnd::Complete => Ok(()),
            FindEnd::Enough => {
                report_error(&format!("the list ends after {count}; there may be more"));
                Ok(())
            }
        }
    }
}

fn study_line(study: &StudyEntry) -> String {
    let or = |value: &Option<String>| value.clone().unwrap_or_else(|| "-".to_owned());
    let modalities = study.modalities.as_ref().map(|all| all.join("/"));
    format!(
        "{}  {}  {}  {}  {}\n",
        or(&study.study_date),
        or(&modalities),
        or(&study.patient_name),
        or(&study.patient_id),
        study.study_instance_uid
    )
}
