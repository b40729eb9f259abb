//! `lengthfilm archive get`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use super::connection::Connection;
use super::watched::watched;
use crate::archive::{self, FilmsFolder, GetOutcome, Keep, Settings, Way};
use crate::cli::output::{CliError, print_json, print_text, report_error};

#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum ByWay {
    /// C-GET; C-MOVE where the archive does not offer that.
    #[default]
    Get,
    /// C-MOVE to ourselves.
    Move,
}

/// How films come.
#[derive(Debug, Args)]
pub(super) struct Coming {
    /// How the films come.
    #[arg(long, value_enum, default_value_t)]
    by: ByWay,
    /// Port to receive on with C-MOVE; the archive must know it.
    #[arg(long, value_name = "PORT")]
    listen: Option<u16>,
}

impl Coming {
    /// Fetches the films of a study, or of it those named, into `folder`.
    pub fn fetch(
        &self,
        settings: &Settings,
        study: &str,
        only: &[String],
        folder: &mut FilmsFolder,
    ) -> Result<GetOutcome, CliError> {
        let settings = Settings {
            receive_port: self.listen.unwrap_or(settings.receive_port),
            ..settings.clone()
        };
        let way = match self.by {
            ByWay::Get => Way::Either,
            ByWay::Move => Way::Move,
        };
        let present = folder.present();
        watched("film", |watch| {
            let mut sink = |received| folder.write(&received);
            archive::get_films(&settings, study, only, &present, way, &mut sink, watch)
        })
        .map_err(CliError::input)
    }
}

/// What is to be said of films that came: a code and words.
pub(super) fn remarks(not_sent: usize, folder: &FilmsFolder) -> Vec<(&'static str, String)> {
    let not_sent = (not_sent > 0).then(|| {
        let text =
            format!("{not_sent} were not sent: no films, or in a form that is not read here");
        ("not_sent", text)
    });
    let burned_in = folder.burned_in.iter().map(|path| {
        let text = format!(
            "{}: its header says that writing is part of the picture; look whether it names somebody",
            path.display()
        );
        ("writing_in_picture", text)
    });
    not_sent.into_iter().chain(burned_in).collect()
}

#[derive(Debug, Args)]
pub(super) struct Get {
    #[command(flatten)]
    connection: Connection,
    /// Study Instance UID.
    #[arg(long, value_name = "UID")]
    study: String,
    /// Only these films (SOP Instance UID).
    #[arg(long, value_name = "UID", value_delimiter = ',')]
    film: Vec<String>,
    /// Folder to write to; films that are there are not fetched again.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// Keep names, numbers and dates in the files. Without it only picture,
    /// exposure and UIDs are written.
    #[arg(long)]
    identity: bool,
    #[command(flatten)]
    coming: Coming,
}

impl Get {
    pub fn run(self) -> Result<(), CliError> {
        let settings = self.connection.settings()?;
        let keep = match self.identity {
            true => Keep::Everything,
            false => Keep::WithoutIdentity,
        };
        let mut folder = FilmsFolder::new(&self.out, keep).map_err(CliError::input)?;
        let outcome = self
            .coming
            .fetch(&settings, &self.study, &self.film, &mut folder)?;
        if outcome.fetched + outcome.present == 0 {
            return Err(CliError::Input(format!(
                "{}: no film of that study came; check the UID with archive find",
                settings.at
            )));
        }
        let warnings = remarks(outcome.not_sent, &folder);
        if self.connection.json {
            return print_json(&json!({
                "films": folder.written, "fetched": outcome.fetched,
                "present": outcome.present, "not_sent": outcome.not_sent,
                "identity": self.identity, "warnings": as_json(&warnings),
            }));
        }
        for path in &folder.written {
            print_text(&format!("{}\n", path.display()))?;
        }
        for (_, text) in warnings {
            report_error(&text);
        }
        Ok(())
    }
}

/// Remarks as `warnings` of JSON hold them.
pub(super) fn as_json(remarks: &[(&str, String)]) -> Vec<Value> {
    let warning = |(code, text): &(&str, String)| json!({ "code": code, "text": text });
    remarks.iter().map(warning).collect()
}
