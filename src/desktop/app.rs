//! The application: carries out commands, runs jobs, lays out the panels.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Context, Frame, Margin, Rect, Ui, UiBuilder, ViewportCommand};

use super::assist::{Fresh, QUIET_TIME, Running, Suggestion};
use super::chart_note::chart_note;
use super::class::{self, ClassRecord, ClassView};
use super::command::{self, Command};
use super::document::{self, Document, Handle, Tool};
use super::engine::{self, OpenFilm, Reading, fresh_case, is_case_path};
use super::film_view::{self, Pyramid, Tone, locally_raised};
use super::film_watch::FilmWatch;
use super::icons::{self, Icon};
use super::jobs::{JobEnd, JobName, Jobs};
use super::palette;
use super::panels::dialogs::{self, Answer};
use super::panels::{findings, menu, rail, status, welcome};
use super::preferences::Preferences;
use super::records::{RecordKind, RecordOrder};
use super::recovery::{self, Recovery, Snapshot};
use super::repeats;
use super::session::{Dialog, Grip, Next, Session};
use super::window::StartWith;
use super::workspace::Workspace;
use crate::case::{self, Case};
use crate::film::Film;
use crate::report::Existing;
use crate::trace::TraceError;

/// Width of the rail and of the findings at normal text size, points.
const RAIL_WIDTH: f32 = 244.0;
const FINDINGS_WIDTH: f32 = 330.0;
/// Height of head, toolbar and foot at normal text size, points.
const HEAD_HEIGHT: f32 = 36.0;
const TOOLBAR_HEIGHT: f32 = 34.0;
const FOOT_HEIGHT: f32 = 28.0;
/// Ending of case files.
const CASE_ENDING: &str = "case.json";

/// What the application starts from.
pub struct Setup {
    /// `None` opens the welcome page.
    pub start: Option<StartWith>,
    pub preferences: Preferences,
    /// Where recovery copies are kept; `None` keeps none.
    pub recovery_folder: Option<PathBuf>,
}

/// What panels work on: document and film, passing state, habits, and the
/// orders given in this frame.
pub struct Desk<'a> {
    pub workspace: &'a mut Workspace,
    pub session: &'a mut Session,
    pub preferences: &'a mut Preferences,
    pub commands: &'a mut Vec<Command>,
}

/// What a job brings back.
enum JobResult {
    Picked {
        purpose: Purpose,
        path: Option<PathBuf>,
    },
    Film {
        path: PathBuf,
        opened: Result<OpenFilm, String>,
    },
    Case {
        path: PathBuf,
        opened: Box<Result<(Case, OpenFilm), String>>,
    },
    Demo(Box<Result<(Case, OpenFilm), String>>),
    Duplicate {
        case: Box<Case>,
        opened: Result<OpenFilm, String>,
    },
    Restored {
        snapshot: Box<Snapshot>,
        opened: Result<OpenFilm, String>,
    },
    Saved {
        case: Box<Case>,
        path: PathBuf,
        result: Result<(), String>,
        then: Option<Next>,
    },
    Autosaved(Result<(), String>),
    Recorded(Result<Vec<PathBuf>, String>),
    LocalContrast {
        of: Arc<Pyramid>,
        local: Option<(Arc<Film>, Arc<Pyramid>)>,
    },
    Suggested {
        /// Revision the request was made at.
        revision: u64,
        of: Arc<Pyramid>,
        found: Result<Suggestion, TraceError>,
    },
    Refined {
        revision: u64,
        of: Arc<Pyramid>,
        reading: Box<Reading>,
    },
}

/// Why the user was asked for a file.
#[derive(Clone, Debug)]
enum Purpose {
    Open,
    SaveAs { then: Option<Next> },
    Duplicate,
    Record(RecordKind),
}

/// The application behind the window; also driven headless by tests.
pub struct DesktopApp {
    workspace: Option<Workspace>,
    session: Session,
    preferences: Preferences,
    jobs: Jobs<JobResult>,
    recovery: Recovery,
    class: ClassView,
    watch: Option<FilmWatch>,
    autosaved_revision: u64,
    /// Theme, text size and title last put in force.
    applied_look: Option<(bool, f32)>,
    applied_title: String,
}

impl DesktopApp {
    /// Starts with what `setup` says; slow parts run as jobs.
    pub fn new(ctx: &Context, setup: Setup) -> Self {
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        let mut app = Self {
            workspace: None,
            session: Session::default(),
            preferences: setup.preferences,
            jobs: Jobs::default(),
            recovery: Recovery::new(setup.recovery_folder),
            class: ClassView::default(),
            watch: None,
            autosaved_revision: 0,
            applied_look: None,
            applied_title: String::new(),
        };
        app.apply_look(ctx);
        match setup.start {
            Some(StartWith::Demo) => app.open_demo(ctx),
            Some(StartWith::Film(path) | StartWith::Case(path)) => app.open_path(ctx, path),
            None => {}
        }
        app.session.dialog = app
            .recovery
            .leftover()
            .map(|leftover| Dialog::Recover(Box::new(leftover)));
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
            JobName::Record,
        ]
        .into_iter()
        .any(|name| self.jobs.is_running(name))
            || self.class.is_busy()
    }

    /// Where a film point of the case shows on the screen.
    pub fn screen_from_film(&self, point: crate::units::FilmPoint) -> Option<egui::Pos2> {
        Some(self.workspace.as_ref()?.view.screen_from_film(point))
    }

    /// An orderly end: nothing is left to recover.
    pub fn close(&mut self) {
        self.recovery.clear();
    }

    /// One frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.poll_jobs(&ctx);
        self.class.poll(&ctx, &mut self.session);
        if let Some(workspace) = &mut self.workspace {
            workspace.set_settings(self.preferences.settings());
        }
        self.look_at_film_file();
        let mut commands = Vec::new();
        if self.session.dialog.is_none() {
            commands = command::pressed(&ctx);
        }
        self.take_dropped(&ctx);
        self.lay_out(ui, &mut commands);
        self.answer_dialog(&ctx, &mut commands);
        for command in commands {
            self.carry_out(&ctx, command);
        }
        self.assist(&ctx);
        self.settle_next(&ctx);
        self.hold_close(&ctx);
        self.autosave(&ctx);
        self.refine_intervals(&ctx);
        self.apply_look(&ctx);
        self.apply_title(&ctx);
    }

    fn lay_out(&mut self, ui: &mut Ui, commands: &mut Vec<Command>) {
        let whole = ui.max_rect();
        let scale = self.preferences.text_scale;
        let problems = self.problem_strip_height(ui);
        let (head, rest) = whole.split_top_bottom_at_y(whole.top() + HEAD_HEIGHT * scale);
        let (strip, rest) = rest.split_top_bottom_at_y(rest.top() + problems);
        region(ui, "head", head, |ui| {
            ui.horizontal_centered(|ui| {
                menu::menus(ui, &self.preferences, &mut self.session, commands);
                if self.class.open {
                    return;
                }
                if let Some(mut desk) = desk_of(
                    &mut self.workspace,
                    &mut self.session,
                    &mut self.preferences,
                    commands,
                ) {
                    ui.separator();
                    menu::case_state(ui, &mut desk);
                }
            });
        });
        if problems > 0.0 {
            region(ui, "problems", strip, |ui| {
                problem_strip(ui, &mut self.session.problems)
            });
        }
        if self.class.open {
            region(ui, "class", rest, |ui| self.class.show(ui));
            return;
        }
        let busy = self.is_busy();
        let Some(mut desk) = desk_of(
            &mut self.workspace,
            &mut self.session,
            &mut self.preferences,
            commands,
        ) else {
            region(ui, "welcome", rest, |ui| {
                welcome::show(ui, &self.preferences, &mut self.session, commands, busy);
            });
            return;
        };
        let (body, foot) = rest.split_top_bottom_at_y(rest.bottom() - FOOT_HEIGHT * scale);
        let (rail_rect, middle) = body.split_left_right_at_x(body.left() + RAIL_WIDTH * scale);
        let (middle, findings_rect) =
            middle.split_left_right_at_x(middle.right() - FINDINGS_WIDTH * scale);
        let (toolbar, film) = middle.split_top_bottom_at_y(middle.top() + TOOLBAR_HEIGHT * scale);
        region(ui, "toolbar", toolbar, |ui| {
            film_view::toolbar(ui, &mut desk)
        });
        // The film first: what is dragged there changes all numbers of this
        // very frame.
        ui.scope_builder(UiBuilder::new().id_salt("film").max_rect(film), |ui| {
            film_view::show(ui, &mut desk);
        });
        region(ui, "rail", rail_rect, |ui| rail::show(ui, &mut desk));
        region(ui, "findings", findings_rect, |ui| {
            findings::show(ui, &mut desk)
        });
        region(ui, "foot", foot, |ui| status::show(ui, &mut desk, busy));
        let line = ui.visuals().widgets.noninteractive.bg_stroke;
        for x in [rail_rect.right(), findings_rect.left()] {
            ui.painter().vline(x, body.y_range(), line);
        }
    }

    fn problem_strip_height(&self, ui: &Ui) -> f32 {
        let row = ui.spacing().interact_size.y + ui.spacing().item_spacing.y;
        match self.session.problems.len() {
            0 => 0.0,
            count => row * count.min(3) as f32 + 12.0,
        }
    }

    // Commands

    fn carry_out(&mut self, ctx: &Context, command: Command) {
        if self.class.open && !class::lets_through(command) {
            return self.class.carry_out(ctx, command);
        }
        match command {
            Command::GradeClass => self.class.open = !self.class.open,
            Command::Open => self.session.next = Some(Next::AskForFile),
            Command::OpenByPath => {
                self.session.dialog = Some(Dialog::OpenByPath {
                    path: String::new(),
                });
            }
            Command::OpenDemo => self.session.next = Some(Next::Demo),
            Command::DuplicateForNewFilm if self.workspace.is_some() => {
                self.session.next = Some(Next::Duplicate);
            }
            Command::Quit => self.session.next = Some(Next::Quit),
            Command::Save => self.save(ctx, None),
            Command::SaveAs => self.save_as(ctx, None),
            Command::SaveRecord(kind) if self.workspace.is_some() => {
                self.ask_for_file(ctx, Purpose::Record(kind));
            }
            Command::ToggleTheme => self.preferences.dark = !self.preferences.dark,
            Command::TextLarger => self.preferences.change_text(1),
            Command::TextSmaller => self.preferences.change_text(-1),
            Command::ToggleRuler => self.preferences.show_ruler = !self.preferences.show_ruler,
            Command::NextConstruction => self.preferences.next_construction(),
            Command::ShowCommands => {
                self.session.dialog = Some(Dialog::Commands {
                    filter: String::new(),
                });
            }
            Command::ShowCautions => self.session.dialog = Some(Dialog::Cautions),
            _ => {
                let mut unused = Vec::new();
                if let Some(mut desk) = desk_of(
                    &mut self.workspace,
                    &mut self.session,
                    &mut self.preferences,
                    &mut unused,
                ) {
                    carry_out_on_case(ctx, &mut desk, command);
                }
                if command == Command::LocalContrast {
                    self.prepare_local_contrast(ctx);
                }
            }
        }
    }

    /// Goes on at once, or asks first when work would be lost.
    fn settle_next(&mut self, ctx: &Context) {
        let Some(next) = self.session.next.take() else {
            return;
        };
        // A duplicate leaves the case behind like any other opening.
        if self.is_unsaved() {
            self.session.dialog = Some(Dialog::Unsaved { then: next });
        } else {
            self.proceed(ctx, next);
        }
    }

    fn proceed(&mut self, ctx: &Context, next: Next) {
        match next {
            Next::Open(path) => self.open_path(ctx, path),
            Next::AskForFile => self.ask_for_file(ctx, Purpose::Open),
            Next::Demo => self.open_demo(ctx),
            Next::Duplicate => self.ask_for_file(ctx, Purpose::Duplicate),
            Next::Quit => {
                self.session.quit_agreed = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
        }
    }

    /// The window's own close button asks like the command.
    fn hold_close(&mut self, ctx: &Context) {
        let asked = ctx.input(|input| input.viewport().close_requested());
        if asked && !self.session.quit_agreed && self.is_unsaved() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.session.dialog = Some(Dialog::Unsaved { then: Next::Quit });
        }
    }

    fn answer_dialog(&mut self, ctx: &Context, commands: &mut Vec<Command>) {
        let Some(mut dialog) = self.session.dialog.take() else {
            return;
        };
        match dialogs::show(ctx, &mut dialog) {
            Answer::Waiting => self.session.dialog = Some(dialog),
            Answer::Closed => {}
            Answer::Run(command) => commands.push(command),
            Answer::Open(path) => self.session.next = Some(Next::Open(path.trim().into())),
            Answer::SaveThen(next) => self.save(ctx, Some(next)),
            Answer::Proceed(next) => self.proceed(ctx, next),
            Answer::Restore => {
                if let Dialog::Recover(leftover) = dialog {
                    recovery::discard(&leftover);
                    self.restore(ctx, leftover.snapshot);
                }
            }
            Answer::DiscardLeftover => {
                if let Dialog::Recover(leftover) = dialog {
                    recovery::discard(&leftover);
                }
            }
            Answer::ReloadFilm => self.reload_film(ctx),
            Answer::RemoveCanal(canal) => {
                if let Some(workspace) = &mut self.workspace {
                    workspace
                        .document
                        .edit("Remove canal", |case| document::remove_canal(case, canal));
                }
            }
        }
    }

    // Opening

    fn open_path(&mut self, ctx: &Context, path: PathBuf) {
        if path.is_dir() {
            return self.class.take_files(vec![path]);
        }
        let started = self.jobs.start(ctx, JobName::Open, move || {
            if is_case_path(&path) {
                let opened = Box::new(engine::open_case(&path));
                JobResult::Case { path, opened }
            } else {
                let opened = engine::open_film(&path);
                JobResult::Film { path, opened }
            }
        });
        self.note_start(started);
    }

    fn open_demo(&mut self, ctx: &Context) {
        let started = self.jobs.start(ctx, JobName::Open, || {
            JobResult::Demo(Box::new(engine::demo()))
        });
        self.note_start(started);
    }

    fn restore(&mut self, ctx: &Context, snapshot: Snapshot) {
        let started = self.jobs.start(ctx, JobName::Open, move || {
            let opened = match &snapshot.film_path {
                Some(path) => engine::open_film(path),
                None => engine::demo().map(|(_, film)| film),
            };
            JobResult::Restored {
                snapshot: Box::new(snapshot),
                opened,
            }
        });
        self.note_start(started);
    }

    fn reload_film(&mut self, ctx: &Context) {
        let path = self
            .workspace
            .as_ref()
            .and_then(|workspace| workspace.film.path.clone());
        if let (Some(workspace), Some(path)) = (&self.workspace, path) {
            let snapshot = snapshot_of(workspace);
            let started = self
                .jobs
                .start(ctx, JobName::Open, move || JobResult::Restored {
                    opened: engine::open_film(&path),
                    snapshot: Box::new(snapshot),
                });
            self.note_start(started);
        }
    }

    fn note_start(&mut self, started: bool) {
        if !started {
            self.session.say("Still opening the last file");
        }
    }

    fn ask_for_file(&mut self, ctx: &Context, purpose: Purpose) {
        let dialog = rfd::AsyncFileDialog::new();
        let known = self.workspace.as_ref().and_then(|workspace| {
            let path = workspace
                .document
                .case_path()
                .or(workspace.film.path.as_deref())?;
            Some((
                path.parent()?.to_owned(),
                path.file_stem()?.to_string_lossy().into_owned(),
            ))
        });
        let dialog = match &known {
            Some((folder, _)) => dialog.set_directory(folder),
            None => dialog,
        };
        let films = &["dcm", "dic", "png", "tif", "tiff", "jpg", "jpeg", "bmp"];
        let picking: std::pin::Pin<Box<dyn Future<Output = Option<rfd::FileHandle>> + Send>> =
            match &purpose {
                Purpose::Open => Box::pin(
                    dialog
                        .set_title("Open a film or a case")
                        .add_filter("Films and cases", &[&films[..], &["json"]].concat())
                        .add_filter("All files", &["*"])
                        .pick_file(),
                ),
                Purpose::Duplicate => Box::pin(
                    dialog
                        .set_title("Choose the second film")
                        .add_filter("Films", films)
                        .add_filter("All files", &["*"])
                        .pick_file(),
                ),
                Purpose::Record(kind) => {
                    let stem = known.map_or_else(|| "record".to_owned(), |(_, stem)| stem);
                    let stem = stem.trim_end_matches(".case");
                    Box::pin(
                        dialog
                            .set_title("Save the record")
                            .set_file_name(format!("{stem}.{}", kind.ending()))
                            .add_filter(kind.name(), &[kind.ending()])
                            .save_file(),
                    )
                }
                Purpose::SaveAs { .. } => {
                    let stem = known.map_or_else(|| "new".to_owned(), |(_, stem)| stem);
                    let stem = stem.trim_end_matches(".case");
                    Box::pin(
                        dialog
                            .set_title("Save the case")
                            .set_file_name(format!("{stem}.{CASE_ENDING}"))
                            .add_filter("Cases", &["json"])
                            .save_file(),
                    )
                }
            };
        self.jobs
            .start(ctx, JobName::FileDialog, move || JobResult::Picked {
                purpose,
                path: super::jobs::wait_for(picking).map(|file| file.path().to_owned()),
            });
    }

    /// A single film or case is opened; several, or a folder, are a class.
    fn take_dropped(&mut self, ctx: &Context) {
        let mut dropped: Vec<PathBuf> = ctx.input(|input| {
            let files = input.raw.dropped_files.iter();
            files.map(|file| file.path().to_owned()).collect()
        });
        let is_class = |paths: &[PathBuf]| paths.len() > 1 || paths.iter().any(|p| p.is_dir());
        if self.class.open && !dropped.is_empty() || is_class(&dropped) {
            self.class.take_files(dropped);
        } else if let Some(path) = dropped.pop() {
            self.session.next = Some(Next::Open(path));
        }
    }

    /// Grades a class, as the class view's button does.
    pub fn grade_class(&mut self, ctx: &Context, reference: Vec<PathBuf>, traces: Vec<PathBuf>) {
        self.class.grade(ctx, reference, traces);
    }

    /// Writes a record of the class, as the file dialog's answer does.
    pub fn save_class_to(&mut self, ctx: &Context, kind: ClassRecord, path: &Path) {
        self.class.save_to(ctx, kind, path);
    }

    fn show_case(&mut self, ctx: &Context, document: Document, film: OpenFilm, tool: Tool) {
        self.class.open = false;
        self.watch = match (&film.path, &film.sha256, film.stamp) {
            (Some(path), Some(sha256), Some(stamp)) => {
                Some(FilmWatch::start(ctx, path.clone(), sha256.clone(), stamp))
            }
            _ => None,
        };
        self.workspace = Some(Workspace::new(document, film, self.preferences.settings()));
        self.session.start_case(tool);
        self.recovery.clear();
        self.autosaved_revision = 0;
    }

    fn look_at_film_file(&mut self) {
        let replaced = self.watch.as_ref().is_some_and(FilmWatch::take_replaced);
        let path = self
            .workspace
            .as_ref()
            .and_then(|workspace| workspace.film.path.clone());
        if let (true, Some(path)) = (replaced, path) {
            self.session.dialog = Some(Dialog::FilmReplaced { path });
        }
    }

    // Saving

    fn save(&mut self, ctx: &Context, then: Option<Next>) {
        let path = self
            .workspace
            .as_ref()
            .and_then(|workspace| workspace.document.case_path().map(Path::to_owned));
        match path {
            Some(path) => self.write_case(ctx, path, then),
            None => self.save_as(ctx, then),
        }
    }

    fn save_as(&mut self, ctx: &Context, then: Option<Next>) {
        if self.workspace.is_some() {
            self.ask_for_file(ctx, Purpose::SaveAs { then });
        }
    }

    /// Writes the case to a file, as the file dialog's answer does.
    pub fn save_to(&mut self, ctx: &Context, path: PathBuf) {
        self.write_case(ctx, path, None);
    }

    /// Writes a record, as the file dialog's answer does. The tick that asks
    /// for the patient's identity holds for this record alone.
    pub fn save_record_to(&mut self, ctx: &Context, kind: RecordKind, path: PathBuf) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let order = RecordOrder {
            case: workspace.document.case().clone(),
            case_path: workspace.document.case_path().map(Path::to_owned),
            film: workspace.film.clone(),
            settings: self.preferences.settings(),
            include_identity: std::mem::take(&mut self.session.include_identity),
        };
        let out_path = kind.with_ending(path.clone());
        // The dialog has asked about the very name chosen, no other.
        let existing = if out_path == path {
            Existing::ReplaceNamed
        } else {
            Existing::Keep
        };
        let started = self.jobs.start(ctx, JobName::Record, move || {
            JobResult::Recorded(order.write(&out_path, existing))
        });
        if !started {
            self.session.say("Still saving the last record");
        }
    }

    /// Writes the case to a file, and the demo film beside it.
    fn write_case(&mut self, ctx: &Context, path: PathBuf, then: Option<Next>) {
        let Some(workspace) = &mut self.workspace else {
            return;
        };
        let mut film_copy = None;
        let film_path = match &workspace.film.path {
            Some(film) => path_from_case(film, &path),
            None => {
                let name = "demo-film.png".to_owned();
                let target = path.with_file_name(&name);
                film_copy = Some((target, Arc::clone(&workspace.film.film)));
                name
            }
        };
        workspace
            .document
            .set_film_file(film_path, workspace.film.sha256.clone());
        let case = workspace.document.case().clone();
        let started = self.jobs.start(ctx, JobName::Save, move || {
            let result = film_copy
                .map_or(Ok(()), |(target, film)| {
                    super::records::save_film_beside(&film, &target)
                })
                .and_then(|()| case::save(&case, &path).map_err(|error| error.to_string()));
            JobResult::Saved {
                case: Box::new(case),
                path,
                result,
                then,
            }
        });
        if !started {
            self.session.say("Still saving");
        }
    }

    /// Keeps a copy of unsaved work, once no drag is under way.
    fn autosave(&mut self, ctx: &Context) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let revision = workspace.document.revision();
        if revision == self.autosaved_revision || self.session.grip != Grip::None {
            return;
        }
        if !workspace.document.is_unsaved() {
            self.recovery.clear();
            self.autosaved_revision = revision;
            return;
        }
        let Some(copy) = self.recovery.copy_path() else {
            return;
        };
        let snapshot = snapshot_of(workspace);
        let started = self.jobs.start(ctx, JobName::Autosave, move || {
            JobResult::Autosaved(recovery::write_copy(&copy, &snapshot))
        });
        if started {
            self.autosaved_revision = revision;
        }
    }

    fn prepare_local_contrast(&mut self, ctx: &Context) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        if workspace.show_local_contrast && workspace.local_tiles.is_none() {
            let film = Arc::clone(&workspace.film.film);
            let of = Arc::clone(&workspace.film.pyramid);
            self.jobs.start(ctx, JobName::LocalContrast, move || {
                JobResult::LocalContrast {
                    of,
                    local: locally_raised(&film).map(|raised| {
                        let pyramid = Arc::new(Pyramid::new(&raised));
                        (Arc::new(raised), pyramid)
                    }),
                }
            });
        }
    }

    /// Begins what assisting clicks have asked for, once earlier work has
    /// stopped.
    fn assist(&mut self, ctx: &Context) {
        if self.jobs.is_running(JobName::Assist) {
            return;
        }
        let Some(workspace) = &self.workspace else {
            return;
        };
        let Some(request) = self.session.assist_request.take() else {
            return;
        };
        let running = Running::begin();
        let teller = ctx.clone();
        let measured = workspace.last_reading().findings.scale.mm_per_px;
        let scale =
            engine::detector_mm_per_px(workspace.document.case(), &workspace.film, measured);
        let work = running.work(request, &workspace.film, scale, move || {
            teller.request_repaint();
        });
        let revision = workspace.document.revision();
        let of = Arc::clone(&workspace.film.pyramid);
        let started = self
            .jobs
            .start(ctx, JobName::Assist, move || JobResult::Suggested {
                revision,
                of,
                found: work(),
            });
        if started {
            self.session.assisting = Some(running);
            ctx.request_repaint_after(QUIET_TIME);
        }
    }

    /// Puts a suggestion into the case, or says why there is none.
    fn take_suggestion(
        &mut self,
        revision: u64,
        of: &Arc<Pyramid>,
        found: Result<Suggestion, TraceError>,
    ) {
        let cancelled = self
            .session
            .assisting
            .take()
            .is_none_or(|r| r.is_cancelled());
        let Some(workspace) = &mut self.workspace else {
            return;
        };
        if cancelled || !Arc::ptr_eq(of, &workspace.film.pyramid) {
            return;
        }
        if workspace.document.revision() != revision {
            self.session
                .say("The case has changed meanwhile: press again for a suggestion");
            return;
        }
        match found {
            Ok(suggestion) => {
                let label = suggestion.label();
                workspace
                    .document
                    .edit(label, |case| suggestion.apply(case));
                self.session.suggested = Some(Fresh {
                    revision: workspace.document.revision(),
                });
                self.session.say(suggestion.words());
                let case = workspace.document.case();
                let index = self.session.canal;
                let apex = case.canals.get(index).and_then(|canal| canal.apex_px);
                self.session.tool = match (&suggestion, apex) {
                    (Suggestion::File { .. }, None) => Tool::Apex,
                    _ => Tool::Select,
                };
                if matches!(suggestion, Suggestion::File { .. }) {
                    self.session.focus_length_of = document::file_object_index(case, index)
                        .filter(|&object| case.scale.objects[object].true_length_mm.is_none());
                }
            }
            Err(TraceError::Cancelled) => {}
            Err(problem) => self
                .session
                .say(format!("No suggestion: {problem}. Nothing was changed")),
        }
    }

    // Jobs

    /// Once the pointer is still, the live intervals give way to drawn ones.
    fn refine_intervals(&mut self, ctx: &Context) {
        let dragging = ctx.input(|input| input.pointer.any_down());
        let Some(workspace) = self.workspace.as_ref().filter(|_| !dragging) else {
            return;
        };
        if self.jobs.is_running(JobName::Intervals) {
            return;
        }
        if let Some((revision, read)) = workspace.refinement() {
            let of = Arc::clone(&workspace.film.pyramid);
            self.jobs
                .start(ctx, JobName::Intervals, move || JobResult::Refined {
                    revision,
                    of,
                    reading: Box::new(read()),
                });
        }
    }

    fn poll_jobs(&mut self, ctx: &Context) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(result) => self.take_result(ctx, result),
                JobEnd::Lost(JobName::Intervals) => {
                    if let Some(workspace) = &mut self.workspace {
                        workspace.keep_live_intervals();
                    }
                }
                JobEnd::Lost(JobName::Assist) => {
                    self.session.assisting = None;
                    self.session.say("No suggestion: nothing was changed");
                }
                JobEnd::Lost(name) => self.session.complain(format!(
                    "{name:?}: this did not come to an end; nothing was changed"
                )),
            }
        }
    }

    fn take_result(&mut self, ctx: &Context, result: JobResult) {
        match result {
            JobResult::Picked { path: None, .. } => self.session.say("No file chosen"),
            JobResult::Picked {
                purpose,
                path: Some(path),
            } => match purpose {
                Purpose::Open => self.open_path(ctx, path),
                Purpose::SaveAs { then } => self.write_case(ctx, with_case_ending(path), then),
                Purpose::Duplicate => self.open_duplicate(ctx, path),
                Purpose::Record(kind) => self.save_record_to(ctx, kind, path),
            },
            JobResult::Film { path, opened } => match opened {
                Ok(film) => {
                    self.preferences.remember(&path);
                    let mut case = fresh_case(&absolute(&path));
                    case.film.sha256.clone_from(&film.sha256);
                    self.preferences.own_click_noise.state_in(&mut case);
                    self.show_case(ctx, Document::new(case, None), film, Tool::File);
                    self.session.say("Film opened");
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Case { path, opened } => match *opened {
                Ok((case, film)) => {
                    self.preferences.remember(&path);
                    let tool = if case.canals.is_empty() {
                        Tool::File
                    } else {
                        Tool::Select
                    };
                    self.show_case(ctx, Document::new(case, Some(path)), film, tool);
                    self.session.say("Case opened");
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Suggested {
                revision,
                of,
                found,
            } => self.take_suggestion(revision, &of, found),
            JobResult::Refined {
                revision,
                of,
                reading,
            } => {
                if let Some(workspace) = &mut self.workspace
                    && Arc::ptr_eq(&of, &workspace.film.pyramid)
                {
                    workspace.refined(revision, *reading);
                }
            }
            JobResult::Demo(demo) => match *demo {
                Ok((case, film)) => {
                    self.show_case(ctx, Document::new(case, None), film, Tool::Select);
                    self.session
                        .say("This is the demo case: try anything, nothing can be lost");
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Duplicate { case, opened } => match opened {
                Ok(film) => {
                    let empty = fresh_case(&case.film.path);
                    self.show_case(ctx, Document::unsaved(*case, None, empty), film, Tool::File);
                    self.session.say("Same tooth and canals on the second film");
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Restored { snapshot, opened } => match opened {
                Ok(film) => {
                    let Snapshot {
                        mut case,
                        saved,
                        case_path,
                        ..
                    } = *snapshot;
                    case.film.sha256.clone_from(&film.sha256);
                    let document = Document::unsaved(case, case_path, saved);
                    self.show_case(ctx, document, film, Tool::Select);
                    self.session.say("Unsaved work restored");
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Saved {
                case,
                path,
                result,
                then,
            } => match result {
                Ok(()) => {
                    self.preferences.remember(&path);
                    self.session.say(format!("Saved as {}", path.display()));
                    if let Some(workspace) = &mut self.workspace {
                        workspace.document.mark_saved(*case, path);
                    }
                    self.autosaved_revision = 0;
                    self.session.next = then;
                }
                Err(problem) => self.session.complain(problem),
            },
            JobResult::Recorded(Ok(written)) => {
                let names: Vec<_> = written
                    .iter()
                    .map(|path| path.display().to_string())
                    .collect();
                self.session
                    .say(format!("Saved as {}", names.join(" and ")));
            }
            JobResult::Recorded(Err(problem)) => self.session.complain(problem),
            JobResult::Autosaved(Ok(())) => {}
            JobResult::Autosaved(Err(problem)) => self.session.complain(problem),
            JobResult::LocalContrast { of, local } => {
                if let Some(workspace) = &mut self.workspace
                    && Arc::ptr_eq(&workspace.film.pyramid, &of)
                    && let Some((film, pyramid)) = local
                {
                    workspace.set_local_contrast(film, pyramid);
                }
            }
        }
    }

    fn open_duplicate(&mut self, ctx: &Context, path: PathBuf) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let mut case = document::for_second_film(workspace.document.case());
        case.film.path = absolute(&path);
        let started = self.jobs.start(ctx, JobName::Open, move || {
            let opened = engine::open_film(&path);
            if let Ok(film) = &opened {
                case.film.sha256.clone_from(&film.sha256);
            }
            JobResult::Duplicate {
                case: Box::new(case),
                opened,
            }
        });
        self.note_start(started);
    }

    // Look

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
        let title = if self.class.open {
            "Class – Lengthfilm".to_owned()
        } else {
            of_case
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

/// A part of the window with the panel's ground and margins.
fn region(ui: &mut Ui, name: &str, rect: Rect, show: impl FnOnce(&mut Ui)) {
    ui.painter().rect_filled(rect, 0.0, ui.visuals().panel_fill);
    let inner = rect - Margin::symmetric(10, 3);
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(inner), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}

/// Errors in plain words until put away.
fn problem_strip(ui: &mut Ui, problems: &mut Vec<String>) {
    let palette = palette::of(ui);
    let mut gone = None;
    egui::ScrollArea::vertical()
        .id_salt("problem list")
        .show(ui, |ui| {
            for (index, problem) in problems.iter().enumerate() {
                Frame::new().show(ui, |ui| {
                    ui.horizontal(|ui| {
                        if ui.button("Put away").clicked() {
                            gone = Some(index);
                        }
                        icons::sign(ui, Icon::Square, palette.alarm, "Problem");
                        let text = egui::RichText::new(problem.as_str()).color(palette.alarm);
                        ui.add(egui::Label::new(text).truncate())
                            .on_hover_text(problem);
                    });
                });
            }
        });
    if let Some(index) = gone {
        problems.remove(index);
    }
}

/// Commands on the open case.
fn carry_out_on_case(ctx: &Context, desk: &mut Desk<'_>, command: Command) {
    if repeats::carry_out(desk, command) {
        ctx.request_repaint();
        return;
    }
    let size = desk.workspace.film.size_px();
    let middle = desk.workspace.view.viewport.center();
    match command {
        Command::Undo => match desk.workspace.document.undo() {
            Some(step) => desk.session.say(format!("Undone: {step}")),
            None => desk.session.say("Nothing to undo"),
        },
        Command::Redo => match desk.workspace.document.redo() {
            Some(step) => desk.session.say(format!("Done again: {step}")),
            None => desk.session.say("Nothing to redo"),
        },
        Command::DeleteHandle => delete_selected(desk),
        Command::InsertPoint => insert_after_selected(desk),
        Command::PlaceAtCross => film_view::place_at_cross(desk),
        Command::Finish => finish(desk),
        Command::Cancel => {
            desk.workspace.document.cancel_live();
            desk.session.stop_assisting();
            desk.session.grip = Grip::None;
            desk.session.tool = Tool::Select;
        }
        Command::NewCanal => {
            let mut index = 0;
            desk.workspace
                .document
                .edit("New canal", |case| index = document::add_canal(case));
            desk.session.canal = index;
            desk.session.tool = Tool::File;
        }
        Command::NextCanal | Command::PreviousCanal => {
            let count = desk.workspace.document.case().canals.len().max(1);
            let step = if command == Command::NextCanal {
                1
            } else {
                count - 1
            };
            desk.session.canal = (desk.session.canal + step) % count;
        }
        Command::Use(tool) => {
            desk.session.stop_assisting();
            desk.session.tool = tool;
            if tool.places() {
                ctx.memory_mut(|memory| memory.request_focus(film_view::film_id()));
            }
        }
        Command::CopyChartNote => copy_chart_note(ctx, desk),
        Command::CopyPicture => {
            let film = desk.workspace.view.viewport;
            let copied = ctx.clone();
            ctx.request_screenshot(move |picture| {
                copied.copy_image(picture.region(&film, Some(copied.pixels_per_point())));
                copied.request_repaint();
            });
            desk.session.say("Annotated picture copied");
        }
        Command::Fit => desk.workspace.view.fit(size),
        Command::OneToOne => desk.workspace.view.one_to_one(ctx.pixels_per_point()),
        Command::ZoomIn => desk.workspace.view.zoom_about(middle, film_view::ZOOM_STEP),
        Command::ZoomOut => desk
            .workspace
            .view
            .zoom_about(middle, 1.0 / film_view::ZOOM_STEP),
        Command::TurnLeft => turn(desk, 3),
        Command::TurnRight => turn(desk, 1),
        Command::Mirror => desk.workspace.view.mirrored = !desk.workspace.view.mirrored,
        Command::Invert => desk.workspace.tone.inverted = !desk.workspace.tone.inverted,
        Command::AutoContrast => set_window(desk, Tone::automatic(&desk.workspace.film.film)),
        Command::FullContrast => set_window(desk, Tone::full(&desk.workspace.film.film)),
        Command::LocalContrast => {
            desk.workspace.show_local_contrast = !desk.workspace.show_local_contrast;
        }
        // Orders to the window, carried out before.
        _ => {}
    }
    ctx.request_repaint();
}

fn turn(desk: &mut Desk<'_>, quarters: u8) {
    let view = &mut desk.workspace.view;
    view.quarter_turns = (view.quarter_turns + quarters) % 4;
    view.fit(desk.workspace.film.size_px());
}

fn set_window(desk: &mut Desk<'_>, tone: Tone) {
    let inverted = desk.workspace.tone.inverted;
    desk.workspace.tone = Tone { inverted, ..tone };
    desk.workspace.show_local_contrast = false;
}

fn delete_selected(desk: &mut Desk<'_>) {
    let Some(handle) = desk.session.selected.take() else {
        desk.session.say("No point chosen: press on one first");
        return;
    };
    let name = document::name_of(desk.workspace.document.case(), &handle);
    let step = format!("Delete {name}");
    if desk
        .workspace
        .document
        .edit(&step, |case| document::delete(case, &handle))
    {
        desk.session.say(step);
    }
}

fn insert_after_selected(desk: &mut Desk<'_>) {
    let mut inserted: Option<Handle> = None;
    if let Some(handle) = desk.session.selected.clone() {
        desk.workspace.document.edit("Insert point", |case| {
            inserted = document::insert_next(case, &handle);
        });
    }
    match inserted {
        Some(handle) => {
            desk.session.focus_handle = Some(handle.clone());
            desk.session.selected = Some(handle);
            desk.session.say("Insert point");
        }
        None => desk
            .session
            .say("Choose a point of a file or canal line first"),
    }
}

fn finish(desk: &mut Desk<'_>) {
    let canal = desk.session.canal;
    if desk.session.tool == Tool::Trace {
        desk.workspace
            .document
            .edit("Finish the canal at its apex", |case| {
                document::finish_trace(case, canal)
            });
    }
    desk.session.tool = Tool::Select;
}

fn copy_chart_note(ctx: &Context, desk: &mut Desk<'_>) {
    desk.workspace.reading();
    let typed = desk.workspace.document.case().film.date.clone();
    let date = typed.or_else(|| desk.workspace.film.taken_on.clone());
    let note = chart_note(
        desk.workspace.document.case(),
        &desk.workspace.last_reading().findings,
        desk.session.canal,
        date.as_deref(),
    );
    match note {
        Some(note) => {
            ctx.copy_text(note);
            desk.session.say("Chart note copied");
        }
        None => desk
            .session
            .say("No working length yet: mark file and apex, and type the set length"),
    }
}

fn snapshot_of(workspace: &Workspace) -> Snapshot {
    Snapshot {
        case: workspace.document.case().clone(),
        saved: workspace.document.saved_case().clone(),
        case_path: workspace.document.case_path().map(Path::to_owned),
        film_path: workspace.film.path.clone(),
    }
}

/// The film's path as the case file states it: relative where the film lies
/// in the case's folder or below, so that both can be moved together.
fn path_from_case(film: &Path, case: &Path) -> String {
    let folder = case
        .parent()
        .map(|folder| std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned()));
    let film = std::path::absolute(film).unwrap_or_else(|_| film.to_owned());
    let stated = folder
        .as_deref()
        .and_then(|folder| film.strip_prefix(folder).ok())
        .unwrap_or(&film);
    stated.to_string_lossy().into_owned()
}

fn absolute(path: &Path) -> String {
    std::path::absolute(path)
        .unwrap_or_else(|_| path.to_owned())
        .to_string_lossy()
        .into_owned()
}

fn with_case_ending(path: PathBuf) -> PathBuf {
    let name = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    if name.ends_with(".json") {
        path
    } else {
        path.with_file_name(format!("{name}.{CASE_ENDING}"))
    }
}
