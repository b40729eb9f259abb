//! What is done with the archive beside the window.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::time::{Duration, Instant};

use egui::Context;

use crate::archive::{
    self, FilmEntry, FilmsFolder, FindEnd, Keep, PartTen, Queue, QueueEntry, Settings, StudyEntry,
    StudyQuery, Watch, Way,
};
use crate::desktop::state::records::RecordOrder;

/// Settings within the data folder.
const SETTINGS_FILE: &str = "archive.json";
/// Most studies that a list holds.
pub const MOST_STUDIES: usize = 50_000;
/// The window is woken at most this often by a list that grows.
const WAKES_EVERY: Duration = Duration::from_millis(50);

/// A job of the archive under way: how far it is, and how it is stopped.
#[derive(Clone, Default)]
pub struct Running {
    cancel: Arc<AtomicBool>,
    done: Arc<AtomicUsize>,
}

impl Running {
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    pub fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }

    pub fn watched<T>(&self, ctx: &Context, work: impl FnOnce(&Watch) -> T) -> T {
        let (begun, woken) = (Instant::now(), AtomicUsize::new(0));
        let progress = |count: usize, _: Option<usize>| {
            self.done.store(count, Ordering::Relaxed);
            let now = (begun.elapsed().as_millis() / WAKES_EVERY.as_millis()) as usize;
            if woken.swap(now, Ordering::Relaxed) != now {
                ctx.request_repaint();
            }
        };
        work(&Watch {
            progress: &progress,
            cancel: &self.cancel,
        })
    }
}

/// Where settings and queue are kept, or what to do where that is nowhere.
fn kept_in(home: Option<&Path>) -> Result<&Path, String> {
    home.ok_or_else(|| "no folder for settings; set LENGTHFILM_HOME to one".to_owned())
}

/// The settings in force; `None` where there are none yet.
///
/// # Errors
/// One line in plain words.
pub fn load_settings(home: Option<&Path>) -> Result<Option<Settings>, String> {
    match home.map(|home| home.join(SETTINGS_FILE)) {
        Some(path) if path.exists() => {
            let settings = Settings::load(&path).map_err(|error| error.to_string())?;
            Ok(Some(settings))
        }
        _ => Ok(None),
    }
}

/// Keeps settings for the next time.
///
/// # Errors
/// One line in plain words.
pub fn save_settings(settings: &Settings, home: Option<&Path>) -> Result<(), String> {
    let path = kept_in(home)?.join(SETTINGS_FILE);
    settings.save(&path).map_err(|error| error.to_string())
}

/// Asks whether the archive answers; the time that took, ms.
///
/// # Errors
/// One line in plain words.
pub fn test(settings: &Settings, running: &Running, ctx: &Context) -> Result<f64, String> {
    let begun = Instant::now();
    running
        .watched(ctx, |watch| archive::echo(settings, watch))
        .map_err(|error| error.to_string())?;
    Ok(begun.elapsed().as_secs_f64() * 1e3)
}

/// Lists studies, each sent as it arrives; whether the list is whole.
///
/// # Errors
/// One line in plain words; what came before stands.
pub fn search(
    settings: &Settings,
    query: &StudyQuery,
    list: &Sender<StudyEntry>,
    running: &Running,
    ctx: &Context,
) -> Result<FindEnd, String> {
    let (mut count, mut woken) = (0, Instant::now());
    let mut each = |study: StudyEntry| {
        count += 1;
        let is_heard = list.send(study).is_ok();
        if count == 1 || woken.elapsed() > WAKES_EVERY {
            woken = Instant::now();
            ctx.request_repaint();
        }
        is_heard && count < MOST_STUDIES
    };
    running
        .watched(ctx, |watch| {
            archive::find_studies(settings, query, &mut each, watch)
        })
        .map_err(|error| error.to_string())
}

/// The films of a study.
///
/// # Errors
/// One line in plain words.
pub fn films(
    settings: &Settings,
    study: &str,
    running: &Running,
    ctx: &Context,
) -> Result<Vec<FilmEntry>, String> {
    running
        .watched(ctx, |watch| archive::find_films(settings, study, watch))
        .map_err(|error| error.to_string())
}

/// A film that was fetched.
pub struct Fetched {
    pub path: PathBuf,
    /// Its header says that writing is part of the picture.
    pub has_writing: bool,
}

/// Fetches one film into the folder of films.
///
/// # Errors
/// One line in plain words.
pub fn fetch(
    settings: &Settings,
    home: Option<&Path>,
    film: &FilmEntry,
    keep: Keep,
    running: &Running,
    ctx: &Context,
) -> Result<Fetched, String> {
    let folder = match &settings.films_folder {
        Some(folder) => folder.clone(),
        None => kept_in(home)?.join("films"),
    };
    // A film with names and the same one without are two files.
    let folder = match keep {
        Keep::WithoutIdentity => folder,
        Keep::Everything => folder.join("with-identity"),
    };
    let uid = film.sop_instance_uid.clone();
    let mut folder = FilmsFolder::new(&folder, keep).map_err(|error| error.to_string())?;
    let (path, present) = (folder.path_of(&uid), folder.present());
    let wanted = [uid];
    running
        .watched(ctx, |watch| {
            let mut sink = |received| folder.write(&received);
            let study = &film.study_instance_uid;
            archive::get_films(
                settings,
                study,
                &wanted,
                &present,
                Way::Either,
                &mut sink,
                watch,
            )
        })
        .map_err(|error| error.to_string())?;
    if !path.exists() {
        return Err(format!(
            "{}: the film did not come; the archive may hold it in a form that is not read here",
            settings.at
        ));
    }
    Ok(Fetched {
        has_writing: folder.burned_in.contains(&path),
        path,
    })
}

fn queue(home: Option<&Path>) -> Result<Queue, String> {
    let folder = kept_in(home)?.join("archive-queue");
    Queue::open(&folder).map_err(|error| error.to_string())
}

/// What waits to be sent.
///
/// # Errors
/// One line in plain words.
pub fn waiting(home: Option<&Path>) -> Result<Vec<QueueEntry>, String> {
    if home.is_none() {
        return Ok(Vec::new());
    }
    queue(home)?.entries().map_err(|error| error.to_string())
}

/// What a round of sending has come to.
#[derive(Debug, Default)]
pub struct Sent {
    pub sent: usize,
    pub already_there: usize,
    /// Why the first of what waits was not sent.
    pub problem: Option<String>,
    pub waiting: Vec<QueueEntry>,
}

/// Sends what waits.
///
/// # Errors
/// One line in plain words.
pub fn send(
    settings: &Settings,
    home: Option<&Path>,
    running: &Running,
    ctx: &Context,
) -> Result<Sent, String> {
    let queue = queue(home)?;
    let outcome = running
        .watched(ctx, |watch| queue.send(settings, watch))
        .map_err(|error| error.to_string())?;
    Ok(Sent {
        sent: outcome.sent.len(),
        already_there: outcome.already_there.len(),
        problem: outcome.waiting.first().map(|(_, error)| error.to_string()),
        waiting: queue.entries().map_err(|error| error.to_string())?,
    })
}

/// Makes the record of a case as a DICOM structured report, puts it into the
/// queue and sends what waits. Whose it is, the archive is asked when it is
/// sent; nothing of it is written here.
///
/// # Errors
/// One line in plain words.
pub fn send_record(
    order: &RecordOrder,
    settings: &Settings,
    home: Option<&Path>,
    running: &Running,
    ctx: &Context,
) -> Result<Sent, String> {
    let queue = queue(home)?;
    for bytes in order.structured_report()? {
        let part = PartTen::parse(bytes).map_err(|error| error.to_string())?;
        queue
            .add(&part, &settings.at, true)
            .map_err(|error| error.to_string())?;
    }
    send(settings, home, running, ctx)
}
