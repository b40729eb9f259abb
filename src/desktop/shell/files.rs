//! Opening and saving films, cases and records.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Context;

use super::DesktopApp;
use super::file_chooser::{self, Progress as Choosing};
use super::job_result::{JobResult, Purpose};
use crate::case::edit::{self, Tool};
use crate::case::is_case_path;
use crate::desktop::pages::class::ClassRecord;
use crate::desktop::state::document::Document;
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::film_watch::FilmWatch;
use crate::desktop::state::jobs::JobName;
use crate::desktop::state::long_job::{LongJob, QUIET_TIME};
use crate::desktop::state::offers::is_bare;
use crate::desktop::state::open_film::{self, OpenFilm};
use crate::desktop::state::page::Page;
use crate::desktop::state::records::{self, RecordKind, RecordOrder};
use crate::desktop::state::recovery::Snapshot;
use crate::desktop::state::saving::{Over, SaveProblem};
use crate::desktop::state::session::{Dialog, Next};
use crate::desktop::state::workspace::Workspace;
use crate::measure::{MeasureSettings, earlier_film};
use crate::practice::is_sealed_path;
use crate::progress::Progress;
use crate::report::Existing;
use crate::two_view::stored_path;

/// Ending of case files.
const CASE_ENDING: &str = "case.json";
const FILM_ENDINGS: &[&str] = &["dcm", "dic", "png", "tif", "tiff", "jpg", "jpeg", "bmp"];
/// DICOM files often have no ending at all.
const OPENED: &[FileKind] = &[
    FileKind {
        name: "Films and cases",
        endings: &[
            "dcm",
            "dic",
            "png",
            "tif",
            "tiff",
            "jpg",
            "jpeg",
            "bmp",
            "case.json",
        ],
    },
    FileKind {
        name: "Cases",
        endings: &[CASE_ENDING],
    },
    ALL_FILES,
];
const FILMS: &[FileKind] = &[
    FileKind {
        name: "Films",
        endings: FILM_ENDINGS,
    },
    ALL_FILES,
];
const CASES: &[FileKind] = &[
    FileKind {
        name: "Cases",
        endings: &["json"],
    },
    ALL_FILES,
];

impl DesktopApp {
    pub(super) fn open_path(&mut self, ctx: &Context, path: PathBuf) {
        if path.is_dir() {
            return self.pages.grade_files(&mut self.session, vec![path]);
        }
        if is_sealed_path(&path) {
            return self.pages.grade_exercises(&mut self.session, Some(path));
        }
        self.begin_opening(ctx, move |progress| {
            if is_case_path(&path) {
                let opened = Box::new(open_film::open_case_watched(&path, None, progress));
                JobResult::Case { path, opened }
            } else {
                let opened = open_film::open_film_watched(&path, progress);
                JobResult::Film { path, opened }
            }
        });
    }

    /// Opens a case whose film may lie elsewhere than it says.
    pub(super) fn open_case_on(&mut self, ctx: &Context, path: PathBuf, film: PathBuf) {
        self.begin_opening(ctx, move |progress| {
            let opened = open_film::open_case_watched(&path, Some(&film), progress);
            JobResult::Case {
                path,
                opened: Box::new(opened),
            }
        });
    }

    /// Opens something on a thread of its own, unless something is being opened
    /// already.
    fn begin_opening(
        &mut self,
        ctx: &Context,
        work: impl FnOnce(&Progress) -> JobResult + Send + 'static,
    ) {
        let running = LongJob::begin("Opening the file");
        let (job, waker) = (running.clone(), ctx.clone());
        let started = self.jobs.start(ctx, JobName::Open, move || {
            job.watched(|| waker.request_repaint(), work)
        });
        if started {
            self.session.opening = Some(running);
            ctx.request_repaint_after(QUIET_TIME);
        } else {
            self.session.notify("Still opening the last file");
        }
    }

    pub(super) fn open_demo(&mut self, ctx: &Context) {
        self.begin_opening(ctx, |_| JobResult::Demo(Box::new(open_film::demo())));
    }

    pub(super) fn restore(&mut self, ctx: &Context, snapshot: Snapshot) {
        self.begin_opening(ctx, move |progress| {
            let opened = match &snapshot.film_path {
                Some(path) => open_film::open_film_watched(path, progress),
                None => open_film::demo().map(|(_, film)| film),
            };
            JobResult::Restored {
                snapshot: Box::new(snapshot),
                opened,
            }
        });
    }

    pub(super) fn reload_film(&mut self, ctx: &Context) {
        let path = self
            .workspace
            .as_ref()
            .and_then(|workspace| workspace.film.path.clone());
        if let (Some(workspace), Some(path)) = (&self.workspace, path) {
            let snapshot = snapshot_of(workspace);
            self.begin_opening(ctx, move |progress| JobResult::Restored {
                opened: open_film::open_film_watched(&path, progress),
                snapshot: Box::new(snapshot),
            });
        }
    }

    pub(super) fn ask_for_file(&mut self, ctx: &Context, purpose: Purpose) {
        let known = self.workspace.as_ref().and_then(|workspace| {
            let path = workspace
                .document
                .case_path()
                .or(workspace.film.path.as_deref())?;
            let stem = path.file_stem()?.to_string_lossy();
            let stem = stem.trim_end_matches(".case").to_owned();
            Some((path.parent()?.to_owned(), stem))
        });
        let recent = self.preferences.recent.first();
        let recent = recent.and_then(|path| path.parent().map(Path::to_owned));
        let (folder, stem) = match known {
            Some((folder, stem)) => (Some(folder), Some(stem)),
            None => (
                self.session.folder_view.last_folder.clone().or(recent),
                None,
            ),
        };
        let named = |ending: &str, otherwise: &str| {
            format!("{}.{ending}", stem.as_deref().unwrap_or(otherwise))
        };
        let question = match &purpose {
            Purpose::Open => Question {
                title: "Open a film or a case",
                wanted: Wanted::File,
                kinds: OPENED,
                folder,
                name: String::new(),
            },
            Purpose::Duplicate => Question {
                title: "Choose the second film",
                wanted: Wanted::File,
                kinds: FILMS,
                folder,
                name: String::new(),
            },
            Purpose::EarlierFilm => Question {
                title: "Choose the case of an earlier film",
                wanted: Wanted::File,
                kinds: CASES,
                folder,
                name: String::new(),
            },
            Purpose::Record(kind) => Question {
                title: kind.question(),
                wanted: Wanted::NewFile {
                    ending: kind.ending(),
                },
                kinds: kind.file_kinds(),
                folder,
                name: named(kind.ending(), "record"),
            },
            Purpose::SaveAs { .. } => Question {
                title: "Save the case",
                wanted: Wanted::NewFile {
                    ending: CASE_ENDING,
                },
                kinds: CASES,
                folder,
                name: named(CASE_ENDING, "new"),
            },
        };
        let answer = self.session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, move |path| JobResult::Picked { purpose, path });
    }

    /// Shows the file chooser, while there is one.
    pub(super) fn show_file_chooser(&mut self, ctx: &Context) {
        let Some(chooser) = &mut self.session.chooser else {
            return;
        };
        if file_chooser::show(ctx, chooser, &self.preferences) == Choosing::Done {
            self.session.folder_view = chooser.view();
            self.session.chooser = None;
            ctx.request_repaint();
        }
    }

    /// The chooser has gone, and whoever asked has not heard yet.
    pub(super) fn hears_answer(&self) -> bool {
        self.session.chooser.is_none() && self.jobs.is_running(JobName::FileDialog)
    }

    /// A single film or case is opened; several, or a folder, are a class.
    pub(super) fn take_dropped(&mut self, ctx: &Context) {
        let mut dropped: Vec<PathBuf> = ctx.input(|input| {
            let files = input.raw.dropped_files.iter();
            files.map(|file| file.path().to_owned()).collect()
        });
        if dropped.is_empty() {
            return;
        }
        if self.session.dialog == Some(Dialog::Begin) {
            self.session.dialog = None;
        }
        let page = self.pages.view(self.session.page);
        if page.is_some_and(|page| page.take_files(&dropped)) {
            return;
        }
        let is_class = dropped.len() > 1 || dropped.iter().any(|path| path.is_dir());
        if is_class {
            self.pages.grade_files(&mut self.session, dropped);
        } else if let Some(path) = dropped.pop() {
            self.session.next = Some(Next::Open(path));
        }
    }

    /// Grades a class, as the class view's button does.
    pub fn grade_class(&mut self, ctx: &Context, reference: Vec<PathBuf>, traces: Vec<PathBuf>) {
        self.session.page = Page::Class;
        self.pages.class.grade(ctx, reference, traces);
    }

    /// Writes a record of the class, as the file dialog's answer does.
    pub fn save_class_to(&mut self, ctx: &Context, kind: ClassRecord, path: &Path) {
        self.pages.class.save_to(ctx, kind, path);
    }

    /// Writes the truth of the exercise set chosen in the open, as the folder
    /// dialog's answer does.
    pub fn open_truth_to(&mut self, ctx: &Context, folder: &Path) {
        self.pages.class.open_truth_to(ctx, folder);
    }

    pub(super) fn show_case(
        &mut self,
        ctx: &Context,
        document: Document,
        film: OpenFilm,
        tool: Tool,
    ) {
        self.session.page = Page::Case;
        self.watch = match (&film.path, &film.sha256, film.stamp) {
            (Some(path), Some(sha256), Some(stamp)) => {
                Some(FilmWatch::start(ctx, path.clone(), sha256.clone(), stamp))
            }
            _ => None,
        };
        if let Some(warning) = &film.burned_in {
            self.session.report_error(warning.clone());
        }
        let wants_look = self.preferences.looks_over_films && is_bare(document.case());
        self.workspace = Some(Workspace::new(document, film, self.preferences.settings()));
        self.session.start_case(tool);
        self.session.wants_look = wants_look;
        self.recovery.clear();
        self.autosaved_revision = 0;
    }

    pub(super) fn look_at_film_file(&mut self) {
        let replaced = self.watch.as_ref().is_some_and(FilmWatch::take_replaced);
        let path = self
            .workspace
            .as_ref()
            .and_then(|workspace| workspace.film.path.clone());
        if let (true, Some(path)) = (replaced, path) {
            self.session.dialog = Some(Dialog::FilmReplaced { path });
        }
    }

    pub(super) fn save(&mut self, ctx: &Context, then: Option<Next>) {
        let kept = self.workspace.as_ref().and_then(|workspace| {
            let document = &workspace.document;
            let known = document.file_sha256().map(str::to_owned);
            Some((document.case_path()?.to_owned(), Over::Known(known)))
        });
        match kept {
            Some((path, over)) => self.write_case(ctx, path, over, then),
            None => self.save_as(ctx, then),
        }
    }

    pub(super) fn save_as(&mut self, ctx: &Context, then: Option<Next>) {
        if self.workspace.is_some() {
            self.ask_for_file(ctx, Purpose::SaveAs { then });
        }
    }

    /// Writes the case to a file, as the file dialog's answer does.
    pub fn save_to(&mut self, ctx: &Context, path: PathBuf) {
        self.write_case(ctx, path, Over::Agreed, None);
    }

    /// Writes a record, as the file dialog's answer does. The tick that asks
    /// for the patient's identity holds for this record alone.
    pub fn save_record_to(&mut self, ctx: &Context, kind: RecordKind, path: PathBuf) {
        let Some(order) = self.record_order() else {
            return;
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
            self.session.notify("Still saving the last record");
        }
    }

    /// What a record of the open case is made from.
    pub(super) fn record_order(&mut self) -> Option<RecordOrder> {
        let workspace = self.workspace.as_ref()?;
        if let Some(warning) = &workspace.film.burned_in {
            self.session.report_error(warning.clone());
        }
        Some(RecordOrder {
            case: workspace.document.case().clone(),
            case_path: workspace.document.case_path().map(Path::to_owned),
            film: workspace.film.clone(),
            settings: self.preferences.settings(),
            include_identity: std::mem::take(&mut self.session.include_identity),
            include_file_names: std::mem::take(&mut self.session.include_file_names),
        })
    }

    /// Writes the case to a file, and the demo film beside it.
    pub(super) fn write_case(
        &mut self,
        ctx: &Context,
        path: PathBuf,
        over: Over,
        then: Option<Next>,
    ) {
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
                    records::save_film_beside(&film, &target)
                })
                .map_err(SaveProblem::Other)
                .and_then(|()| Ok(over.save(&case, path.clone())?));
            JobResult::Saved {
                case: Box::new(case),
                path,
                result,
                then,
            }
        });
        if !started {
            self.session.notify("Still saving");
        }
    }

    pub(super) fn open_duplicate(&mut self, ctx: &Context, path: PathBuf) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let mut case = edit::for_second_film(workspace.document.case());
        case.film.path = absolute(&path);
        self.begin_opening(ctx, move |progress| {
            let opened = open_film::open_film_watched(&path, progress);
            if let Ok(film) = &opened {
                case.film.sha256.clone_from(&film.sha256);
            }
            JobResult::Duplicate {
                case: Box::new(case),
                opened,
            }
        });
    }

    /// Takes the scale of the earlier film whose case is at `path`.
    pub(super) fn open_earlier_film(&mut self, ctx: &Context, path: PathBuf) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let of = workspace.film.pyramid.clone();
        let film = workspace.film.summary();
        let size_px = [film.width_px, film.height_px];
        let stored = match workspace.document.case_path() {
            Some(case_path) => stored_path(&path, case_path),
            None => absolute(&path),
        };
        self.begin_opening(ctx, move |progress| {
            let opened = open_film::open_case_watched(&path, None, progress);
            let found = opened.and_then(|(case, film, _)| {
                let settings = MeasureSettings::default();
                let scale = earlier_film(&case, film.summary(), stored, size_px, &settings);
                scale
                    .map(|scale| (scale, film))
                    .map_err(|error| error.to_string())
            });
            JobResult::EarlierFilm {
                of,
                found: Box::new(found),
            }
        });
    }
}

pub(super) fn snapshot_of(workspace: &Workspace) -> Snapshot {
    Snapshot {
        case: workspace.document.case().clone(),
        saved: workspace.document.saved_case().clone(),
        case_path: workspace.document.case_path().map(Path::to_owned),
        case_sha256: workspace.document.file_sha256().map(str::to_owned),
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

pub(super) fn absolute(path: &Path) -> String {
    std::path::absolute(path)
        .unwrap_or_else(|_| path.to_owned())
        .to_string_lossy()
        .into_owned()
}
