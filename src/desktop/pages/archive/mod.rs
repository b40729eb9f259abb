//! The clinic's archive: films from it, records to it (docs/archive.md).
//!
//! Names are on the screen for who asked; this page writes none unless ticked.

mod form;
mod list;
mod outcomes;
mod search;
mod thumbnails;
mod work;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

use egui::{Context, RichText, ScrollArea, Ui, UiBuilder};

use crate::archive::{FilmEntry, FindEnd, Keep, QueueEntry, Settings, StudyEntry};
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::records::RecordOrder;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{section_heading, spoken};
use form::Form;
use search::Search;
use thumbnails::Thumbnails;
use work::{Fetched, Running, Sent};

/// Share of the width that the list of studies takes.
const LIST_SHARE: f32 = 0.66;
/// Height of settings, search and messages together, as a share of the page,
/// before they scroll.
const HEAD_SHARE: f32 = 0.55;

/// What a job brings back.
enum Outcome {
    Loaded(Result<Option<Settings>, String>),
    Saved(Result<(), String>),
    Certificate(Option<PathBuf>),
    Tested(Result<f64, String>),
    Searched(Result<FindEnd, String>),
    Films(String, Result<Vec<FilmEntry>, String>),
    /// No more small pictures come.
    Thumbnails,
    Fetched(Result<Fetched, String>),
    Sent(Result<Sent, String>),
    Waiting(Result<Vec<QueueEntry>, String>),
}

/// The page.
#[derive(Default)]
pub struct ArchivePage {
    /// Where settings, films and queue are kept.
    home: Option<Arc<Path>>,
    form: Form,
    /// In force: typed, checked and kept.
    settings: Option<Settings>,
    has_begun: bool,
    shows_settings: bool,
    search: Search,
    studies: Vec<StudyEntry>,
    arriving: Option<Receiver<StudyEntry>>,
    study: Option<usize>,
    films: Option<(String, Vec<FilmEntry>)>,
    thumbnails: Thumbnails,
    /// The record of the open case is to be sent once the settings are known.
    sends_record: bool,
    keeps_identity: bool,
    waiting: Vec<QueueEntry>,
    /// The record of the open case, to be sent.
    record: Option<RecordOrder>,
    running: Option<(JobName, Running)>,
    message: String,
    problem: Option<String>,
    jobs: Jobs<Outcome>,
}

impl ArchivePage {
    /// Nothing looked at yet.
    pub fn new(home: Option<PathBuf>) -> Self {
        Self {
            home: home.map(Arc::from),
            ..Self::default()
        }
    }

    /// The open case, whose record may be sent.
    pub fn take_open_case(&mut self, order: Option<RecordOrder>) {
        self.record = order;
    }

    /// Sends the record of the open case as soon as the settings are read.
    pub fn send_open_record(&mut self) {
        self.sends_record = true;
    }

    fn begin(&mut self, ctx: &Context) {
        if !std::mem::replace(&mut self.has_begun, true) {
            let home = self.home.clone();
            self.jobs.start(ctx, JobName::Open, move || {
                Outcome::Loaded(work::load_settings(home.as_deref()))
            });
            self.look_at_queue(ctx);
        }
    }

    fn look_at_queue(&mut self, ctx: &Context) {
        let home = self.home.clone();
        self.jobs.start(ctx, JobName::ArchiveQueue, move || {
            Outcome::Waiting(work::waiting(home.as_deref()))
        });
    }

    /// Starts the one job of the archive that runs at a time.
    fn start(
        &mut self,
        ctx: &Context,
        name: JobName,
        work: impl FnOnce(&Settings, &Running, &Context) -> Outcome + Send + 'static,
    ) {
        let Some(settings) = self.settings.clone() else {
            self.problem = Some(NOT_SET_UP.to_owned());
            return;
        };
        if self.running.is_some() {
            return;
        }
        // One thing at a time for archives that take one association.
        self.thumbnails.stop();
        let running = Running::default();
        let (watched, waker) = (running.clone(), ctx.clone());
        if self
            .jobs
            .start(ctx, name, move || work(&settings, &watched, &waker))
        {
            self.running = Some((name, running));
            self.problem = None;
            self.message.clear();
        }
    }

    /// Puts what is typed in force, and keeps it.
    fn use_settings(&mut self, ctx: &Context) -> bool {
        match self.form.settings() {
            Ok(settings) => {
                self.settings = Some(settings.clone());
                self.problem = None;
                let home = self.home.clone();
                self.jobs.start(ctx, JobName::Save, move || {
                    Outcome::Saved(work::save_settings(&settings, home.as_deref()))
                });
                true
            }
            Err(problem) => {
                self.problem = Some(problem);
                false
            }
        }
    }

    fn begin_search(&mut self, ctx: &Context) {
        let query = match self.search.query() {
            Ok(query) => query,
            Err(problem) => {
                self.problem = Some(problem);
                return;
            }
        };
        if self.settings.is_some() && self.running.is_none() {
            self.studies = Vec::new();
            self.study = None;
            self.films = None;
        }
        let (sender, receiver) = channel();
        self.arriving = Some(receiver);
        self.start(
            ctx,
            JobName::ArchiveSearch,
            move |settings, running, ctx| {
                Outcome::Searched(work::search(settings, &query, &sender, running, ctx))
            },
        );
    }

    fn begin_films(&mut self, ctx: &Context, index: usize) {
        let Some(study) = self.studies.get(index) else {
            return;
        };
        self.study = Some(index);
        self.films = None;
        let uid = study.study_instance_uid.clone();
        self.start(ctx, JobName::ArchiveFilms, move |settings, running, ctx| {
            let found = work::films(settings, &uid, running, ctx);
            Outcome::Films(uid, found)
        });
    }

    fn begin_thumbnails(&mut self, ctx: &Context, study: &str, films: &[FilmEntry]) {
        let Some(settings) = self.settings.clone().filter(|_| !films.is_empty()) else {
            return;
        };
        self.thumbnails.order(settings, study, films);
        self.fetch_thumbnails(ctx);
    }

    /// Begins what is ordered, once what was ordered before has stopped.
    fn fetch_thumbnails(&mut self, ctx: &Context) {
        if self.jobs.is_running(JobName::ArchiveThumbnails) {
            return;
        }
        if let Some(order) = self.thumbnails.take_order() {
            let waker = ctx.clone();
            self.jobs.start(ctx, JobName::ArchiveThumbnails, move || {
                order.fetch(&waker);
                Outcome::Thumbnails
            });
        }
    }

    fn begin_fetch(&mut self, ctx: &Context, index: usize) {
        let films = self.films.as_ref().map(|(_, films)| films);
        let Some(film) = films.and_then(|films| films.get(index)).cloned() else {
            return;
        };
        let keep = match self.keeps_identity {
            true => Keep::Everything,
            false => Keep::WithoutIdentity,
        };
        let home = self.home.clone();
        self.start(ctx, JobName::ArchiveFetch, move |settings, running, ctx| {
            let home = home.as_deref();
            Outcome::Fetched(work::fetch(settings, home, &film, keep, running, ctx))
        });
    }

    fn send_record(&mut self, ctx: &Context) {
        if let Some(order) = self.record.clone() {
            let home = self.home.clone();
            self.start(ctx, JobName::ArchiveSend, move |settings, running, ctx| {
                let home = home.as_deref();
                Outcome::Sent(work::send_record(&order, settings, home, running, ctx))
            });
        }
    }

    fn send_waiting(&mut self, ctx: &Context) {
        let home = self.home.clone();
        self.start(ctx, JobName::ArchiveSend, move |settings, running, ctx| {
            Outcome::Sent(work::send(settings, home.as_deref(), running, ctx))
        });
    }

    /// Studies that have arrived since the last frame.
    fn take_arrived(&mut self) {
        if let Some(arriving) = &self.arriving {
            self.studies.extend(arriving.try_iter());
        }
    }

    /// Orders the whole list by date; the study chosen stays chosen.
    fn newest_first(&mut self) {
        let uid = |study: &StudyEntry| study.study_instance_uid.clone();
        let chosen = self
            .study
            .and_then(|index| self.studies.get(index))
            .map(uid);
        self.studies.sort_by(|a, b| b.study_date.cmp(&a.study_date));
        self.study = chosen.and_then(|chosen| {
            let mut studies = self.studies.iter();
            studies.position(|study| study.study_instance_uid == chosen)
        });
    }

    fn settings_part(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        let title = match &self.settings {
            Some(settings) => format!("Settings: {}", settings.at),
            None => "Settings".to_owned(),
        };
        if !section_heading(ui, &title, &mut self.shows_settings) {
            return;
        }
        if self.form.show(ui) {
            let question = Question {
                title: "Choose the archive's certificate",
                wanted: Wanted::File,
                kinds: CERTIFICATES,
                folder: None,
                name: String::new(),
            };
            let answer = session.ask_for_file(&ctx, question);
            self.jobs.await_file(&ctx, answer, Outcome::Certificate);
        }
        ui.horizontal(|ui| {
            if ui.button("Use and keep").clicked() && self.use_settings(&ctx) {
                self.message = "kept".to_owned();
            }
            if ui.button("Test connection").clicked() && self.use_settings(&ctx) {
                self.start(&ctx, JobName::ArchiveTest, |settings, running, ctx| {
                    Outcome::Tested(work::test(settings, running, ctx))
                });
            }
        });
    }

    fn search_part(&mut self, ui: &mut Ui) {
        let is_free = self.running.is_none();
        if self.search.show(ui, is_free) {
            self.begin_search(&ui.ctx().clone());
        }
    }

    /// What is under way, what came of it, and what went wrong.
    fn state(&mut self, ui: &mut Ui) {
        let palette = palette::of(ui);
        if let Some((name, running)) = &self.running {
            ui.horizontal(|ui| {
                let count = match name {
                    JobName::ArchiveSearch => self.studies.len(),
                    _ => running.done(),
                };
                let words = match count {
                    0 => format!("{}…", name.words()),
                    count => format!("{}: {count}", name.words()),
                };
                ui.label(words);
                if ui.button("Stop").clicked() {
                    running.cancel();
                }
            });
        } else if self.message.is_empty() {
            // Its line is kept free.
            if self.settings.is_some() {
                ui.label("");
            }
        } else {
            spoken(
                &ui.label(&self.message),
                &format!("Archive: {}", self.message),
            );
        }
        if let Some(problem) = &self.problem {
            let words = RichText::new(problem).color(palette.alarm);
            spoken(&ui.label(words), &format!("Not done: {problem}"));
        }
    }

    /// The record of the open case, and what waits.
    fn sending(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let quiet = palette::of(ui).quiet_text;
        let is_free = self.running.is_none();
        ui.label(RichText::new("Send").heading());
        let can_send = is_free && self.record.is_some() && self.settings.is_some();
        let button = egui::Button::new("Send record of the open case");
        if ui.add_enabled(can_send, button).clicked() {
            self.send_record(&ctx);
        }
        let lacks = match (&self.settings, &self.record) {
            (None, _) => Some("Set up the archive first."),
            (_, None) => Some("No case is open."),
            _ => None,
        };
        if let Some(lacks) = lacks {
            ui.label(RichText::new(lacks).color(quiet));
        }
        let note = "The DICOM structured report, filed under its film's study. Whose it is the \
                    archive is asked on sending; nothing of it is written here.";
        ui.label(RichText::new(note).color(quiet).small());
        let words = match self.waiting.len() {
            0 => "Nothing waits to be sent".to_owned(),
            count => format!("Waiting to be sent: {count}"),
        };
        ui.label(words);
        if !self.waiting.is_empty() {
            let button = egui::Button::new("Send what waits");
            if ui
                .add_enabled(is_free && self.settings.is_some(), button)
                .clicked()
            {
                self.send_waiting(&ctx);
            }
            ScrollArea::vertical().id_salt("queue").show(ui, |ui| {
                for entry in &self.waiting {
                    let why = entry.last_error.as_deref().unwrap_or("not tried yet");
                    ui.label(format!("{}: {why}", entry.sop_instance_uid));
                }
            });
        }
    }

    fn body(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let rest = ui.available_rect_before_wrap();
        let (left, right) = rest.split_left_right_at_x(rest.left() + rest.width() * LIST_SHARE);
        ui.scope_builder(UiBuilder::new().id_salt("list").max_rect(left), |ui| {
            if self.studies.is_empty() && self.running.is_none() {
                let quiet = palette::of(ui).quiet_text;
                let words = "Studies found are listed here. Search with empty fields lists all.";
                ui.label(RichText::new(words).color(quiet));
                return;
            }
            if let Some(index) = list::studies(ui, &self.studies, self.study) {
                self.begin_films(&ctx, index);
            }
        });
        let right = right.with_min_x(right.left() + 12.0);
        ui.scope_builder(UiBuilder::new().id_salt("chosen").max_rect(right), |ui| {
            ScrollArea::vertical().id_salt("right").show(ui, |ui| {
                ui.label(RichText::new("Films of the study").heading());
                let is_free = self.running.is_none();
                let mut wanted = None;
                match &self.films {
                    Some((_, films)) => {
                        wanted = list::films(ui, films, &self.thumbnails, is_free);
                    }
                    None => {
                        let quiet = palette::of(ui).quiet_text;
                        ui.label(RichText::new("Choose a study from the list").color(quiet));
                    }
                }
                ui.checkbox(&mut self.keeps_identity, "Keep names in the file")
                    .on_hover_text("Without it only picture, exposure and UIDs are written");
                if let Some(index) = wanted {
                    self.begin_fetch(&ctx, index);
                }
                ui.separator();
                self.sending(ui);
            });
        });
    }
}

/// What to do where no archive is set up.
const NOT_SET_UP: &str = "No archive is set up yet. Ask its administrator for title (AET), host and port, \
     type them under Settings, and test the connection. Everything else works without an archive.";

const CERTIFICATES: &[FileKind] = &[
    FileKind {
        name: "Certificates (PEM)",
        endings: &["pem", "crt", "cer"],
    },
    ALL_FILES,
];

impl PageView for ArchivePage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        self.begin(&ctx);
        if ui.button("Back to the case").clicked() {
            session.page = Page::Case;
        }
        let most = ui.available_height() * HEAD_SHARE;
        ScrollArea::vertical()
            .id_salt("archive head")
            .max_height(most)
            .auto_shrink([false, true])
            .show(ui, |ui| {
                self.settings_part(ui, session);
                self.search_part(ui);
                // Below, so that nothing moves under the pointer.
                if self.settings.is_none() {
                    let quiet = palette::of(ui).quiet_text;
                    ui.label(RichText::new(NOT_SET_UP).color(quiet));
                }
                self.state(ui);
            });
        ui.separator();
        self.body(ui);
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        self.take_arrived();
        self.thumbnails.take_arrived(ctx);
        let is_ready = self.settings.is_some() && self.running.is_none();
        if is_ready && std::mem::take(&mut self.sends_record) {
            self.send_record(ctx);
        }
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(outcome) => self.take(ctx, session, outcome),
                JobEnd::Lost(name) => {
                    if self
                        .running
                        .as_ref()
                        .is_some_and(|(running, _)| *running == name)
                    {
                        self.running = None;
                    }
                    session.report_error(format!("{} stopped before its end", name.words()));
                }
            }
        }
    }

    fn is_busy(&self) -> bool {
        self.running.is_some()
            || self.jobs.is_running(JobName::Open)
            || self.jobs.is_running(JobName::Save)
            || self.jobs.is_running(JobName::ArchiveQueue)
            || self.jobs.is_running(JobName::ArchiveThumbnails)
    }

    fn progress_words(&self) -> Option<String> {
        let (name, _) = self.running.as_ref()?;
        Some(format!("{}…", name.words()))
    }

    fn close(&mut self) {
        self.thumbnails.stop();
        if let Some((_, running)) = &self.running {
            running.cancel();
        }
    }
}
