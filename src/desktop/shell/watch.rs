//! The watched folder: its newest film opens itself, or is offered.

use egui::{Context, RichText, Ui};

use super::DesktopApp;
use super::answer::Answer;
use super::job_result::JobResult;
use crate::desktop::state::file_chooser::{Question, Wanted};
use crate::desktop::state::folder_watch::{FolderWatch, newest_in};
use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::session::{Dialog, Next};
use crate::desktop::ui::palette;

impl DesktopApp {
    /// Watches the folder of the preferences, and takes what has come.
    pub(super) fn look_at_watched_folder(&mut self, ctx: &Context) {
        let watched = self.folder_watch.as_ref().map(FolderWatch::folder);
        if watched != self.preferences.watched_folder.as_deref() {
            let folder = self.preferences.watched_folder.clone();
            self.folder_watch = folder.map(|folder| FolderWatch::start(ctx, folder));
            self.session.new_film = None;
        }
        let Some(film) = self.folder_watch.as_ref().and_then(FolderWatch::take_new) else {
            return;
        };
        let is_free = !self.is_unsaved() && !self.session.has_dialog() && !self.is_busy();
        if self.preferences.opens_new_films && is_free {
            self.session.next = Some(Next::Open(film));
        } else {
            self.session.new_film = Some(film);
        }
    }

    /// Opens the film offered, else the newest in the watched folder.
    pub(super) fn open_newest_film(&mut self) {
        let offered = self.session.new_film.take();
        let watched = self.preferences.watched_folder.as_deref();
        match offered.or_else(|| watched.and_then(newest_in)) {
            Some(film) => self.session.next = Some(Next::Open(film)),
            None if watched.is_none() => self.session.dialog = Some(Dialog::WatchFolder),
            None => self.session.notify("No film in the watched folder yet"),
        }
    }

    /// Asks for the folder to watch.
    pub(super) fn ask_for_watched_folder(&mut self, ctx: &Context) {
        let question = Question {
            title: "Choose the folder that new films come into",
            wanted: Wanted::Folder,
            kinds: &[],
            folder: self.preferences.watched_folder.clone(),
            name: String::new(),
        };
        let answer = self.session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, |folder| JobResult::Watched { folder });
    }
}

/// Which folder is watched, and what becomes of a new film.
pub fn settings(ui: &mut Ui, preferences: &mut Preferences) -> Answer {
    let quiet = palette::of(ui).quiet_text;
    ui.heading("New films from a folder");
    ui.label(
        RichText::new(
            "Choose the folder that your sensor's software exports films into. A film that comes \
             there is opened at once, or offered in the window's head while unsaved work is on \
             the screen.",
        )
        .color(quiet),
    );
    match &preferences.watched_folder {
        Some(folder) => ui.label(format!("Watched: {}", folder.display())),
        None => ui.label("No folder is watched"),
    };
    ui.checkbox(&mut preferences.opens_new_films, "Open new films at once")
        .on_hover_text("Otherwise they are only offered");
    let mut answer = Answer::Waiting;
    ui.horizontal(|ui| {
        if ui.button("Choose the folder…").clicked() {
            answer = Answer::ChooseWatchedFolder;
        }
        let watches = preferences.watched_folder.is_some();
        if ui
            .add_enabled(watches, egui::Button::new("Stop watching"))
            .clicked()
        {
            preferences.watched_folder = None;
        }
        if ui.button("Close").clicked() {
            answer = Answer::Closed;
        }
    });
    answer
}
