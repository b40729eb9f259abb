//! `lengthfilm archive put|queue|send`

use std::collections::HashSet;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::connection::Connection;
use super::watched::watched;
use crate::archive::{self, PartTen, Queue, Settings, settings};
use crate::cli::output::{CliError, print_json, print_text, report_error};

#[derive(Debug, Args)]
pub(super) struct Put {
    #[command(flatten)]
    connection: Connection,
    /// DICOM files: films, structured reports, secondary captures.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// A record without patient gets patient and study as the archive has them
    /// for its study; nothing of it is written here.
    #[arg(long)]
    file_under_study: bool,
    /// Keep what cannot be sent now, and send it with `archive send`.
    #[arg(long)]
    queue: bool,
    /// Connections at once.
    #[arg(long, value_name = "N")]
    parallel: Option<usize>,
}

/// The queue in the program's data folder.
fn queue() -> Result<Queue, CliError> {
    let folder = settings::data_folder().ok_or_else(|| {
        CliError::Input("no folder to keep what waits in; set LENGTHFILM_HOME to one".to_owned())
    })?;
    Queue::open(&folder.join("archive-queue")).map_err(CliError::input)
}

impl Put {
    pub fn run(self) -> Result<(), CliError> {
        let mut settings = self.connection.settings()?;
        settings.parallel = self.parallel.unwrap_or(settings.parallel);
        settings.check().map_err(CliError::Input)?;
        let mut parts = Vec::new();
        let mut seen = HashSet::new();
        for file in &self.files {
            let part = PartTen::read(file).map_err(CliError::input)?;
            if seen.insert(part.sop_instance_uid.clone()) {
                parts.push(part);
            }
        }
        if self.queue {
            let queue = queue()?;
            for part in &parts {
                queue
                    .add(part, &settings.at, self.file_under_study)
                    .map_err(CliError::input)?;
            }
            return send_queue(&queue, &settings, self.connection.json);
        }
        let total = parts.len();
        let outcomes = watched("object", |watch| {
            archive::put(&settings, parts, self.file_under_study, watch)
        });
        let (stored, failed): (Vec<_>, Vec<_>) = outcomes
            .into_iter()
            .partition(|outcome| outcome.result.is_ok());
        let stored: Vec<_> = stored.into_iter().map(|one| one.sop_instance_uid).collect();
        let failed: Vec<_> = failed
            .into_iter()
            .filter_map(|one| Some((one.sop_instance_uid, one.result.err()?)))
            .collect();
        if self.connection.json {
            let failed: Vec<_> = failed
                .iter()
                .map(|(uid, error)| json!({ "sop_instance_uid": uid, "error": error.to_string() }))
                .collect();
            print_json(&json!({ "stored": stored, "failed": failed, "warnings": [] }))?;
        } else {
            for uid in &stored {
                print_text(&format!("stored {uid}\n"))?;
            }
        }
        match failed.as_slice() {
            [(_, error)] if total == 1 => Err(CliError::input(error)),
            several => {
                for (uid, error) in several {
                    report_error(&format!("{uid}: {error}"));
                }
                CliError::unless_all(several.len(), total)
            }
        }
    }
}

pub(super) fn list_queue(as_json: bool) -> Result<(), CliError> {
    let entries = queue()?.entries().map_err(CliError::input)?;
    if as_json {
        return print_json(&json!({ "waiting": entries, "warnings": [] }));
    }
    for entry in &entries {
        let why = entry.last_error.as_deref().unwrap_or("not tried yet");
        print_text(&format!("{}  {}\n", entry.sop_instance_uid, why))?;
    }
    Ok(())
}

pub(super) fn send(connection: &Connection) -> Result<(), CliError> {
    let settings = connection.settings()?;
    send_queue(&queue()?, &settings, connection.json)
}

fn send_queue(queue: &Queue, settings: &Settings, as_json: bool) -> Result<(), CliError> {
    let outcome =
        watched("object", |watch| queue.send(settings, watch)).map_err(CliError::input)?;
    let waiting = queue.entries().map_err(CliError::input)?.len();
    if as_json {
        print_json(&json!({
            "sent": outcome.sent, "already_there": outcome.already_there,
            "waiting": waiting,
            "warnings": outcome.waiting.iter().map(|(uid, error)| json!({
                "code": "waits", "text": format!("{uid}: {error}"),
            })).collect::<Vec<_>>(),
        }))?;
    } else {
        let (sent, there) = (outcome.sent.len(), outcome.already_there.len());
        print_text(&format!(
            "{sent} sent, {there} there already, {waiting} waiting\n"
        ))?;
    }
    match outcome.waiting.first() {
        None => Ok(()),
        Some((_, error)) => Err(CliError::Input(format!(
            "{error}; {waiting} kept for `lengthfilm archive send`"
        ))),
    }
}
