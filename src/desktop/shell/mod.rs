//! The shell around the pages: what it holds, and one frame of it.
//!
//! [`commands`] carries out what the user has ordered, [`files`] opens and
//! saves, [`background`] begins work beside the window, [`results`] takes what
//! it brings, [`dialogs`] asks; [`layout`] places the panels, [`window`] is the
//! native window around it all.

mod answer;
mod background;
mod clipboard;
mod commands;
mod dialogs;
mod file_chooser;
mod files;
mod frame_log;
mod job_result;
mod layout;
mod menu;
mod print;
mod recent;
mod results;
mod watch;
mod welcome;
mod window;

use std::path::{Path, PathBuf};

use egui::{Context, Ui, ViewportCommand};

use super::pages::Pages;
use super::state::Desk;
use super::state::clipboard::{Clipboard, OfTheHost};
use super::state::command::Command;
use super::state::film_watch::FilmWatch;
use super::state::folder_watch::FolderWatch;
use super::state::jobs::{JobName, Jobs};
use super::state::keys;
use super::state::preferences::Preferences;
use super::state::recovery::Recovery;
use super::state::session::{Dialog, Session};
use super::state::typed_early::TypedEarly;
use super::state::workspace::Workspace;
use super::ui::palette;
use crate::case::Case;
use job_result::JobResult;
pub use window::{DesktopError, StartWith, run};

/// What the application starts from.
#[derive(Default)]
pub struct Setup {
    /// `None` opens the welcome page.
    pub start: Option<StartWith>,
    pub preferences: Preferences,
    /// Where recovery copies are kept; `None` keeps none.
    pub recovery_folder: Option<PathBuf>,
    /// Where the archive's settings, films and queue are kept; `None` keeps
    /// none.
    pub data_folder: Option<PathBuf>,
}

/// The application behind the window; also driven headless by tests.
pub struct DesktopApp {
    workspace: Option<Workspace>,
    session: Session,
    preferences: Preferences,
    jobs: Jobs<JobResult>,
    clipboard: Box<dyn Clipboard>,
    recovery: Recovery,
    pages: Pages,
    watch: Option<FilmWatch>,
    folder_watch: Option<FolderWatch>,
    autosaved_revision: u64,
    typed_early: TypedEarly,
    /// Theme, text size and title last put in force.
    applied_look: Option<(bool, f32)>,
    applied_title: String,
}

impl DesktopApp {
    /// Starts with what `setup` says; slow parts run as jobs.
    pub fn new(ctx: &Context, setup: Setup) -> Self {
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        palette::add_letters(ctx);
        let mut app = Self {
            workspace: None,
            session: Session::default(),
            preferences: setup.preferences,
            jobs: Jobs::default(),
            clipboard: Box::new(OfTheHost),
            recovery: Recovery::new(setup.recovery_folder),
            pages: Pages::new(setup.data_folder),
            watch: None,
            folder_watch: None,
            autosaved_revision: 0,
            typed_early: TypedEarly::default(),
            applied_look: None,
            applied_title: String::new(),
        };
        app.apply_look(ctx);
        match setup.start {
            Some(StartWith::Demo) => app.open_demo(ctx),
            Some(StartWith::Welcome) => {
                app.open_demo(ctx);
                app.session.dialog = Some(Dialog::Begin);
            }
            Some(StartWith::Film(path) | StartWith::Case(path)) => app.open_path(ctx, path),
            None => {}
        }
        if let Some(leftover) = app.recovery.leftover() {
            app.session.dialog = Some(Dialog::Recover(Box::new(leftover)));
        }
        app
    }

    /// The user's habits, to be kept.
    pub fn preferences(&self) -> &Preferences {
        &self.preferences
    }

    /// The case on the screen.
    pub fn case(&self) -> Option<&Case> {
        self.workspace
            .as_ref()
            .map(|workspace| workspace.document.case())
    }

    /// The case on the screen differs from its file.
    pub fn is_unsaved(&self) -> bool {
        self.workspace
            .as_ref()
            .is_some_and(|workspace| workspace.document.is_unsaved())
    }

    /// A slow job is under way.
    pub fn is_busy(&self) -> bool {
        [
            JobName::Open,
            JobName::Save,
            JobName::Autosave,
            JobName::LocalContrast,
            JobName::Assist,
            JobName::Look,
            JobName::Record,
            JobName::Print,
        ]
        .into_iter()
        .any(|name| self.jobs.is_running(name))
            || self.pages.is_busy()
            || self.hears_answer()
    }

    /// Where a film point of the case shows on the screen.
    pub fn screen_from_film(&self, point: crate::units::FilmPoint) -> Option<egui::Pos2> {
        Some(self.workspace.as_ref()?.view.screen_from_film(point))
    }

    /// An orderly end: nothing is left to recover.
    pub fn close(&mut self) {
        self.recovery.clear();
        self.pages.close();
    }

    /// One frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.poll_jobs(&ctx);
        self.pages.poll(&ctx, &mut self.session);
        if let Some(workspace) = &mut self.workspace {
            workspace.set_settings(self.preferences.settings());
        }
        self.look_at_film_file();
        self.look_at_watched_folder(&ctx);
        let mut commands = Vec::new();
        self.typed_early.begin(&ctx, self.session.has_dialog());
        if !self.session.has_dialog() {
            commands = keys::pressed(&ctx, |_| true);
        } else if self.session.begins() {
            // The ways to begin have keys of their own.
            commands = keys::pressed(&ctx, Command::is_global);
            if !commands.is_empty() {
                self.session.dialog = None;
            }
        }
        self.take_dropped(&ctx);
        self.lay_out(ui, &mut commands);
        self.answer_dialog(&ctx, &mut commands);
        self.show_file_chooser(&ctx);
        for command in commands {
            self.carry_out(&ctx, command);
        }
        self.copy(&ctx);
        self.assist(&ctx);
        self.look_over(&ctx);
        self.settle_next(&ctx);
        self.hold_close(&ctx);
        self.autosave(&ctx);
        self.refine_intervals(&ctx);
        self.apply_look(&ctx);
        self.apply_title(&ctx);
    }

    fn apply_look(&mut self, ctx: &Context) {
        let wanted = (self.preferences.dark, self.preferences.text_scale);
        if self.applied_look != Some(wanted) {
            palette::apply(ctx, wanted.0, wanted.1);
            self.applied_look = Some(wanted);
            ctx.request_repaint();
        }
    }

    fn apply_title(&mut self, ctx: &Context) {
        let of_case = self.workspace.as_ref().map_or_else(
            || "Lengthfilm".to_owned(),
            |workspace| {
                let document = &workspace.document;
                let path = document.case_path().or(workspace.film.path.as_deref());
                let name = path
                    .and_then(Path::file_name)
                    .map_or("Demo".into(), |name| name.to_string_lossy());
                let mark = if document.is_unsaved() { "• " } else { "" };
                format!("{mark}{name} – Lengthfilm")
            },
        );
        let title = match self.session.page.title() {
            Some(page) => format!("{page} – Lengthfilm"),
            None => of_case,
        };
        if title != self.applied_title {
            ctx.send_viewport_cmd(ViewportCommand::Title(title.clone()));
            self.applied_title = title;
        }
    }
}

fn desk_of<'a>(
    workspace: &'a mut Option<Workspace>,
    session: &'a mut Session,
    preferences: &'a mut Preferences,
    commands: &'a mut Vec<Command>,
) -> Option<Desk<'a>> {
    let workspace = workspace.as_mut()?;
    Some(Desk {
        workspace,
        session,
        preferences,
        commands,
    })
}
