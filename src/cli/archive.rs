//! `lengthfilm archive echo|find|get|put|queue|send … --at AET@HOST:PORT`

use std::collections::HashSet;
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;

use super::output::{CliError, print_json, print_text, report_error};
use crate::archive::settings::{self, Tls};
use crate::archive::{
    self, Address, FilmsFolder, FindEnd, Keep, PartTen, Queue, Settings, StudyEntry, StudyQuery,
    Title, Watch, Way,
};

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

/// How the archive is reached. Options come before the settings file.
#[derive(Debug, Args)]
struct Connection {
    /// The archive.
    #[arg(long, value_name = "AET@HOST:PORT")]
    at: Option<Address>,
    /// Our own title.
    #[arg(long, value_name = "OWN")]
    aet: Option<Title>,
    /// Settings file; else archive.json in the program's data folder.
    #[arg(long, value_name = "FILE")]
    settings: Option<PathBuf>,
    /// Longest wait for a connection, s.
    #[arg(long, value_name = "S")]
    connect_timeout: Option<u64>,
    /// Longest wait for an answer, s.
    #[arg(long, value_name = "S")]
    timeout: Option<u64>,
    /// TLS: the archive's certificate or that of who issued it, PEM.
    #[arg(long, value_name = "FILE")]
    tls_certificate: Option<PathBuf>,
    /// TLS: the name in that certificate, where it is not the host's.
    #[arg(long, value_name = "NAME", requires = "tls_certificate")]
    tls_name: Option<String>,
    /// TLS: our certificate, PEM.
    #[arg(long, value_name = "FILE", requires_all = ["tls_certificate", "own_key"])]
    own_certificate: Option<PathBuf>,
    /// TLS: the key to it, PEM.
    #[arg(long, value_name = "FILE", requires = "own_certificate")]
    own_key: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

impl Connection {
    fn settings(&self) -> Result<Settings, CliError> {
        let usual = || settings::usual_file().filter(|path| path.is_file());
        let file = self.settings.clone().or_else(|| match self.at {
            // A settings file nobody named is for who names no archive.
            Some(_) => None,
            None => usual(),
        });
        let mut settings = match (&file, &self.at) {
            (Some(file), _) => Settings::load(file).map_err(CliError::input)?,
            (None, Some(at)) => Settings::new(at.clone()),
            (None, None) => {
                return Err(CliError::Input(
                    "no archive named; add --at AET@HOST:PORT, or write the settings file (docs/archive.md)".to_owned(),
                ));
            }
        };
        if let Some(at) = &self.at {
            settings.at = at.clone();
        }
        if let Some(own) = &self.aet {
            settings.own_title = own.clone();
        }
        let seconds = [
            (&mut settings.connect_timeout_s, self.connect_timeout),
            (&mut settings.answer_timeout_s, self.timeout),
        ];
        for (setting, option) in seconds {
            *setting = option.unwrap_or(*setting);
        }
        if let Some(certificate) = &self.tls_certificate {
            settings.tls = Some(Tls {
                certificate: certificate.clone(),
                server_name: self.tls_name.clone(),
                own_certificate: self.own_certificate.clone(),
                own_key: self.own_key.clone(),
            });
        }
        settings.check().map_err(CliError::Input)?;
        Ok(settings)
    }
}

#[derive(Debug, Args)]
struct Find {
    #[command(flatten)]
    connection: Connection,
    /// Patient's name, `Family^Given`; * and ? are wildcards.
    #[arg(long, default_value = "")]
    patient: String,
    /// Patient ID; * and ? are wildcards.
    #[arg(long, default_value = "")]
    patient_id: String,
    /// A day or a range: 2026-03-14, 20260301-20260331, today.
    #[arg(long, value_parser = archive::date_range, allow_hyphen_values = true)]
    date: Option<String>,
    /// Only studies with one of these.
    #[arg(long, value_delimiter = ',', value_name = "IO,DX,CR,PX")]
    modality: Vec<String>,
    /// Accession number; * and ? are wildcards.
    #[arg(long, default_value = "")]
    accession: String,
    /// List the films of this study (Study Instance UID) instead.
    #[arg(long, value_name = "UID")]
    study: Option<String>,
    /// Stop after so many studies.
    #[arg(long, value_name = "N")]
    limit: Option<usize>,
}

#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum ByWay {
    /// C-GET; C-MOVE where the archive does not offer that.
    #[default]
    Get,
    /// C-MOVE to ourselves.
    Move,
}

#[derive(Debug, Args)]
struct Get {
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
    /// How the films come.
    #[arg(long, value_enum, default_value_t)]
    by: ByWay,
    /// Port to receive on with C-MOVE; the archive must know it.
    #[arg(long, value_name = "PORT")]
    listen: Option<u16>,
}

#[derive(Debug, Args)]
struct Put {
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

impl Archive {
    pub fn run(self) -> Result<(), CliError> {
        match self.command {
            Command::Echo { connection } => echo(&connection),
            Command::Find(find) => find.run(),
            Command::Get(get) => get.run(),
            Command::Put(put) => put.run(),
            Command::Queue { json } => list_queue(json),
            Command::Send { connection } => send(&connection),
        }
    }
}

/// Runs `work` with a watch that shows progress where somebody looks.
fn watched<T>(name: &str, work: impl FnOnce(&Watch) -> T) -> T {
    let shown = io::stderr().is_terminal();
    let progress = |done: usize, total: Option<usize>| {
        if shown {
            let of = total.map_or(String::new(), |total| format!(" of {total}"));
            let _ = write!(io::stderr(), "\r{name} {done}{of} ");
        }
    };
    let cancel = AtomicBool::new(false);
    let result = work(&Watch {
        progress: &progress,
        cancel: &cancel,
    });
    if shown {
        let _ = write!(io::stderr(), "\r");
    }
    result
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

impl Find {
    fn run(self) -> Result<(), CliError> {
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
        let query = StudyQuery {
            patient_name: self.patient.clone(),
            patient_id: self.patient_id.clone(),
            study_date: self.date.clone().unwrap_or_default(),
            modalities: self.modality.iter().map(|m| m.to_uppercase()).collect(),
            accession_number: self.accession.clone(),
            study_instance_uid: String::new(),
        };
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

impl Get {
    fn run(self) -> Result<(), CliError> {
        let mut settings = self.connection.settings()?;
        settings.receive_port = self.listen.unwrap_or(settings.receive_port);
        let keep = match self.identity {
            true => Keep::Everything,
            false => Keep::WithoutIdentity,
        };
        let mut folder = FilmsFolder::new(&self.out, keep).map_err(CliError::input)?;
        let present = folder.present();
        let way = match self.by {
            ByWay::Get => Way::Either,
            ByWay::Move => Way::Move,
        };
        let outcome = watched("film", |watch| {
            let mut sink = |received| folder.write(&received);
            archive::get_films(
                &settings,
                &self.study,
                &self.film,
                &present,
                way,
                &mut sink,
                watch,
            )
        })
        .map_err(CliError::input)?;
        if outcome.fetched + outcome.present == 0 {
            return Err(CliError::Input(format!(
                "{}: no film of that study came; check the UID with archive find",
                settings.at
            )));
        }
        let mut warnings = Vec::new();
        if outcome.not_sent > 0 {
            let text = format!(
                "{} of the study were not sent: no films, or in a form that is not read here",
                outcome.not_sent
            );
            warnings.push(("not_sent", text));
        }
        for path in &folder.burned_in {
            let text = format!(
                "{}: its header says that writing is part of the picture; look whether it names somebody",
                path.display()
            );
            warnings.push(("writing_in_picture", text));
        }
        if self.connection.json {
            let warnings: Vec<_> = warnings
                .iter()
                .map(|(code, text)| json!({ "code": code, "text": text }))
                .collect();
            return print_json(&json!({
                "films": folder.written, "fetched": outcome.fetched,
                "present": outcome.present, "not_sent": outcome.not_sent,
                "identity": self.identity, "warnings": warnings,
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

/// The queue in the program's data folder.
fn queue() -> Result<Queue, CliError> {
    let folder = settings::data_folder().ok_or_else(|| {
        CliError::Input("no folder to keep what waits in; set LENGTHFILM_HOME to one".to_owned())
    })?;
    Queue::open(&folder.join("archive-queue")).map_err(CliError::input)
}

impl Put {
    fn run(self) -> Result<(), CliError> {
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

fn list_queue(as_json: bool) -> Result<(), CliError> {
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

fn send(connection: &Connection) -> Result<(), CliError> {
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
