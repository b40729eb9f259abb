//! Two films of one canal, before and after shaping: which ones, how they lie
//! over each other, and what shaping did (docs/before-after.md).

mod limits;
mod pictures;
mod plots;
mod results;
mod work;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Context, RichText, Ui, UiBuilder};

use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::records::RecordKind;
use crate::desktop::state::session::Session;
use crate::desktop::state::workspace::Workspace;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::shaping::ShapingSettings;
use limits::Limits;
use pictures::Pictures;
use work::{Compared, NAMES, Side};

/// Share of the width that the pictures take.
const PICTURES_SHARE: f32 = 0.46;

/// Monte Carlo draws of a quick look.
const QUICK_DRAWS: usize = 400;

/// What a job brings back.
enum Outcome {
    /// The case chosen for a side.
    Picked(usize, Option<PathBuf>),
    Opened(usize, Box<Result<Side, String>>),
    OpenedPair(Box<Result<[Side; 2], String>>),
    /// `None`: it was stopped.
    Compared(Box<Option<Result<Compared, String>>>),
    RecordPicked(Option<PathBuf>),
    Recorded(Result<PathBuf, String>),
}

/// The page.
#[derive(Default)]
pub struct BeforeAfterPage {
    sides: [Option<Arc<Side>>; 2],
    /// Walls are looked for where a case has none.
    follow: bool,
    /// The pictures themselves bring the marks over each other.
    matches_marks: bool,
    /// Levels every half millimetre instead of every whole one.
    finer: bool,
    /// Fewer draws, for slow machines and a first look.
    is_quick: bool,
    /// Limits of the findings, the user's own or those built in.
    limits: Limits,
    /// Something has changed that the next comparison must see.
    is_stale: bool,
    /// The comparison under way.
    comparing: Option<LongJob>,
    /// The user has stopped it; it begins again when something changes.
    was_stopped: bool,
    result: Option<Result<Arc<Compared>, String>>,
    pictures: Pictures,
    /// Canal whose numbers are shown.
    canal: usize,
    jobs: Jobs<Outcome>,
}

impl BeforeAfterPage {
    /// Takes the open case as the first film, unless another one was chosen.
    pub fn take_open_case(&mut self, open: &Workspace) {
        let held = |side: &Option<Arc<Side>>| side.as_ref().is_some_and(|side| side.is_open_case);
        let place = match self.sides.iter().position(held) {
            Some(place) => place,
            None if self.sides[0].is_none() => 0,
            None => return,
        };
        let document = &open.document;
        let path = document.case_path().or(open.film.path.as_deref());
        let name = path.map_or("Demo".to_owned(), |path| {
            let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
            whole.display().to_string()
        });
        let is_same = self.sides[place].as_ref().is_some_and(|side| {
            side.case == *document.case() && Arc::ptr_eq(&side.film.film, &open.film.film)
        });
        if !is_same {
            let side = Side::new(document.case().clone(), open.film.clone(), name, true);
            self.put(place, side);
        }
    }

    /// Opens a pair in place of what is there, each film from where the case
    /// says or from `films`; `follow`: walls are looked for where a case has
    /// none.
    pub fn open_pair(
        &mut self,
        ctx: &Context,
        cases: [PathBuf; 2],
        films: Option<[PathBuf; 2]>,
        follow: bool,
    ) {
        self.follow = follow;
        self.sides = [None, None];
        self.result = None;
        self.jobs.start(ctx, JobName::Open, move || {
            let side = |place: usize| {
                let film = films.as_ref().map(|films| films[place].as_path());
                Side::open(&cases[place], film)
            };
            let both = side(0).and_then(|before| Ok([before, side(1)?]));
            Outcome::OpenedPair(Box::new(both))
        });
    }

    fn put(&mut self, place: usize, side: Side) {
        self.sides[place] = Some(Arc::new(side));
        self.pictures.forget(place);
        self.result = None;
        self.change();
    }

    /// Asks for another comparison; the numbers of the former one stay until it
    /// is there.
    fn change(&mut self) {
        self.is_stale = true;
        self.was_stopped = false;
        if let Some(running) = &self.comparing {
            running.cancel();
        }
    }

    fn stop(&mut self) {
        self.is_stale = false;
        self.was_stopped = true;
        if let Some(running) = &self.comparing {
            running.cancel();
        }
    }

    /// The numbers shown are of what is chosen now.
    fn is_current(&self) -> bool {
        !self.is_stale && !self.was_stopped && !self.jobs.is_running(JobName::Compare)
    }

    fn exchange(&mut self) {
        self.sides.swap(0, 1);
        self.pictures = Pictures::default();
        self.result = None;
        self.change();
    }

    fn settings(&self) -> ShapingSettings {
        let mut settings = ShapingSettings {
            step_mm: if self.finer { 0.5 } else { 1.0 },
            match_marks: self.matches_marks,
            limits: self.limits.in_force().clone(),
            ..ShapingSettings::default()
        };
        if self.is_quick {
            settings.draws = QUICK_DRAWS;
            settings.measure.draws = QUICK_DRAWS;
        }
        settings
    }

    /// Compares as soon as there are two films and nothing else is compared.
    fn compare_if_stale(&mut self, ctx: &Context) {
        let [Some(before), Some(after)] = &self.sides else {
            return;
        };
        if !self.is_stale || self.jobs.is_running(JobName::Compare) {
            return;
        }
        let sides = [Arc::clone(before), Arc::clone(after)];
        let (settings, follow) = (self.settings(), self.follow);
        self.is_stale = false;
        let doing = "Comparing before and after";
        self.comparing = self
            .jobs
            .start_long(ctx, JobName::Compare, doing, move |progress| {
                let compared = work::compare(sides, &settings, follow, progress);
                Outcome::Compared(Box::new(compared))
            });
    }

    fn ask_for_case(&mut self, ctx: &Context, session: &mut Session, place: usize) {
        const CASES: &[FileKind] = &[
            FileKind {
                name: "Cases",
                endings: &["case.json"],
            },
            ALL_FILES,
        ];
        let question = Question {
            title: match place {
                0 => "Choose the case before shaping",
                _ => "Choose the case after shaping",
            },
            wanted: Wanted::File,
            kinds: CASES,
            folder: self.folder(),
            name: String::new(),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, move |path| Outcome::Picked(place, path));
    }

    /// Where the films lie.
    fn folder(&self) -> Option<PathBuf> {
        let path = self
            .sides
            .iter()
            .flatten()
            .map(|side| Path::new(&side.name));
        let mut folders = path.filter_map(|path| Some(path.parent()?.to_owned()));
        folders.find(|folder| folder.is_dir())
    }

    fn ask_for_record(&mut self, ctx: &Context, session: &mut Session, kind: RecordKind) {
        let Some(Ok(_)) = &self.result else {
            session.notify("Nothing compared yet: choose the two cases");
            return;
        };
        let question = Question {
            title: match kind {
                RecordKind::Csv => "Save the table of levels",
                _ => "Save the report on shaping",
            },
            wanted: Wanted::NewFile {
                ending: kind.ending(),
            },
            kinds: kind.file_kinds(),
            folder: self.folder(),
            name: format!("before-after.{}", kind.ending()),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, Outcome::RecordPicked);
    }

    fn record(&mut self, ctx: &Context, path: PathBuf) {
        if let Some(Ok(compared)) = &self.result {
            let compared = Arc::clone(compared);
            self.jobs.start(ctx, JobName::Record, move || {
                Outcome::Recorded(work::write_record(&compared, &path))
            });
        }
    }

    fn take(&mut self, ctx: &Context, session: &mut Session, outcome: Outcome) {
        match outcome {
            Outcome::Picked(_, None) | Outcome::RecordPicked(None) => {
                session.notify("No file chosen");
            }
            Outcome::Picked(place, Some(path)) => {
                self.jobs.start(ctx, JobName::Open, move || {
                    Outcome::Opened(place, Box::new(Side::open(&path, None)))
                });
            }
            Outcome::Opened(place, opened) => match *opened {
                Ok(side) => self.put(place, side),
                Err(problem) => session.report_error(problem),
            },
            Outcome::OpenedPair(opened) => match *opened {
                Ok([before, after]) => {
                    self.put(0, before);
                    self.put(1, after);
                }
                Err(problem) => session.report_error(problem),
            },
            // Something has changed meanwhile: the next one counts.
            Outcome::Compared(_) if self.is_stale => {}
            Outcome::Compared(result) => {
                self.comparing = None;
                if let Some(result) = *result {
                    self.result = Some(result.map(Arc::new));
                }
            }
            Outcome::RecordPicked(Some(path)) => self.record(ctx, path),
            Outcome::Recorded(Ok(path)) => session.notify(format!("Saved as {}", path.display())),
            Outcome::Recorded(Err(problem)) => session.report_error(problem),
        }
    }

    /// Which films, and what is done with them.
    fn head(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        ui.horizontal_wrapped(|ui| {
            if ui.button("Back to the case").clicked() {
                session.page = Page::Case;
            }
            for (place, name) in NAMES.into_iter().enumerate() {
                ui.separator();
                ui.label(RichText::new(name).strong());
                let words = match &self.sides[place] {
                    Some(side) => side_words(side),
                    None => "no case yet".to_owned(),
                };
                spoken(&ui.label(&words), &format!("{name}: {words}"));
                let button = ui.button("Choose…");
                let button =
                    button.accessible_name(format!("Choose the case {}", name.to_lowercase()));
                if button.clicked() {
                    self.ask_for_case(&ctx, session, place);
                }
            }
            ui.separator();
            if ui
                .button("Exchange")
                .on_hover_text("Exchange before and after")
                .clicked()
            {
                self.exchange();
            }
        });
        ui.horizontal_wrapped(|ui| {
            let follow = ui.checkbox(&mut self.follow, "Follow walls");
            let hint = "Look for the canal's walls on the films where a case has none";
            let matches = ui.checkbox(&mut self.matches_marks, "Match marks");
            let of_matching = "Move the marks after to where the pictures show them: for marks \
                               that look alike on both, as on scans of a block";
            let finer = ui.checkbox(&mut self.finer, "Levels every 0.5 mm");
            let words = format!("Quick ({QUICK_DRAWS} draws)");
            let quick = ui.checkbox(&mut self.is_quick, words);
            let of_quick = "Intervals from fewer draws: sooner there, a little rougher";
            if follow.on_hover_text(hint).changed()
                || matches.on_hover_text(of_matching).changed()
                || finer.changed()
                || quick.on_hover_text(of_quick).changed()
            {
                self.change();
            }
            ui.separator();
            let done = matches!(self.result, Some(Ok(_))) && self.is_current();
            ui.add_enabled_ui(done, |ui| {
                for (kind, name) in [
                    (RecordKind::Pdf, "Save report (PDF)…"),
                    (RecordKind::Csv, "Save table (CSV)…"),
                ] {
                    if ui.button(name).clicked() {
                        self.ask_for_record(&ctx, session, kind);
                    }
                }
            });
            if self.jobs.is_running(JobName::Compare) {
                ui.label("Comparing…");
                if ui.button("Stop").clicked() {
                    self.stop();
                }
            } else if self.was_stopped {
                ui.label("Stopped");
                if ui.button("Compare").clicked() {
                    self.change();
                }
            }
            ui.label(RichText::new(&session.message).color(palette::of(ui).quiet_text));
        });
    }

    /// What stands in place of the results.
    fn advice(&self, ui: &mut Ui) {
        let palette = palette::of(ui);
        match &self.result {
            Some(Err(problem)) => {
                let text = RichText::new(problem).color(palette.alarm);
                spoken(&ui.label(text), &format!("Not compared: {problem}"));
            }
            _ if self.sides.iter().any(Option::is_none) => {
                let missing = usize::from(self.sides[0].is_some());
                let next = format!(
                    "Choose the case {} shaping, above.",
                    NAMES[missing].to_lowercase()
                );
                ui.label(RichText::new(next).heading());
                for line in ADVICE {
                    ui.label(RichText::new(line).color(palette.quiet_text));
                }
            }
            _ if self.was_stopped => {
                ui.label("Stopped: nothing is compared.");
            }
            _ => {
                ui.label("Comparing…");
            }
        }
    }
}

/// How one gets here.
const ADVICE: [&str; 4] = [
    "Two cases of one canal are compared: one before, one after shaping. The open case is taken as \
     the first; Exchange turns the two.",
    "Both need the same marks, at least three, better four, around the canal (Marks, P); the canal \
     traced under the same name (T); and its walls (W, Shift+W), or Follow walls.",
    "“Duplicate for a second film” makes the second case with the same canals.",
    "A photograph of a block is made flat first, so that lengths hold.",
];

/// A case in a few words.
fn side_words(side: &Side) -> String {
    let marks = side.case.marks.len();
    let plural = if marks == 1 { "" } else { "s" };
    format!("{}, {marks} mark{plural}", side.short_name())
}

impl PageView for BeforeAfterPage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        self.head(ui, session);
        ui.separator();
        let rest = ui.available_rect_before_wrap();
        let (left, right) = rest.split_left_right_at_x(rest.left() + rest.width() * PICTURES_SHARE);
        let compared = match &self.result {
            Some(Ok(compared)) => Some(Arc::clone(compared)),
            _ => None,
        };
        ui.scope_builder(UiBuilder::new().id_salt("pictures").max_rect(left), |ui| {
            self.pictures.show(ui, &self.sides, compared.as_deref());
        });
        let right = right.with_min_x(right.left() + 10.0);
        ui.scope_builder(
            UiBuilder::new().id_salt("results").max_rect(right),
            |ui| match &compared {
                Some(compared) => {
                    if !self.is_current() {
                        let words = "These numbers are of the state before.";
                        ui.label(RichText::new(words).color(palette::of(ui).caution));
                    }
                    let findings = &compared.comparison.findings;
                    if results::show(ui, findings, &mut self.canal, &mut self.limits) {
                        self.change();
                    }
                }
                None => self.advice(ui),
            },
        );
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(outcome) => self.take(ctx, session, outcome),
                JobEnd::Lost(name) => session.report_error(format!(
                    "{} stopped before its end; nothing was changed",
                    name.words()
                )),
            }
        }
        self.compare_if_stale(ctx);
    }

    fn is_busy(&self) -> bool {
        [JobName::Open, JobName::Compare, JobName::Record]
            .into_iter()
            .any(|name| self.jobs.is_running(name))
    }

    fn progress_words(&self) -> Option<String> {
        let comparing = self.jobs.is_running(JobName::Compare);
        comparing.then(|| "Comparing before and after…".to_owned())
    }
}
