//! `lengthfilm archive echo|find|get|measure|report|put|queue|send … --at AET@HOST:PORT`

mod connection;
mod find;
mod get;
mod put;
mod studies;
mod watched;

use clap::{Args, Subcommand};
use serde_json::json;

use super::output::{CliError, print_json, print_text};
use crate::archive;
use connection::Connection;
use find::Find;
use get::Get;
use put::{Put, list_queue, send};
use studies::{MeasureStudies, ReportStudies};
use watched::watched;

#[derive(Debug, Args)]
pub struct Archive {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Ask whether the archive answers.
    Echo {
        #[command(flatten)]
        connection: Connection,
    },
    /// List studies, or with --study the films of one. Names are printed here
    /// and kept nowhere.
    Find(Find),
    /// Fetch the films of a study into a folder.
    Get(Get),
    /// Send films and records.
    Put(Put),
    /// Measure the cases about the films of a study, a day or a search; films
    /// that are not here yet are fetched without names.
    Measure(MeasureStudies),
    /// Write a record of each of these cases.
    Report(ReportStudies),
    /// List what waits to be sent.
    Queue {
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Send what waits.
    Send {
        #[command(flatten)]
        connection: Connection,
    },
}

impl Archive {
    pub fn run(self) -> Result<(), CliError> {
        match self.command {
            Command::Echo { connection } => echo(&connection),
            Command::Find(find) => find.run(),
            Command::Get(get) => get.run(),
            Command::Put(put) => put.run(),
            Command::Measure(measure) => measure.run(),
            Command::Report(report) => report.run(),
            Command::Queue { json } => list_queue(json),
            Command::Send { connection } => send(&connection),
        }
    }
}

fn echo(connection: &Connection) -> Result<(), CliError> {
    let settings = connection.settings()?;
    let begun = std::time::Instant::now();
    watched("", |watch| archive::echo(&settings, watch)).map_err(CliError::input)?;
    let ms = begun.elapsed().as_secs_f64() * 1e3;
    match connection.json {
        true => print_json(&json!({
            "at": settings.at, "answers": true, "tls": settings.tls.is_some(), "ms": ms,
        })),
        false => print_text(&format!("{} answers ({ms:.0} ms)\n", settings.at)),
    }
}
