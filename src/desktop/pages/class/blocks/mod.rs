//! A class that shapes practice blocks: pairs of cases before and after, graded
//! by a rubric, two groups compared (docs/before-after.md).

mod groups;
mod list;
mod work;

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Button, Context, RichText, ScrollArea, Ui, UiBuilder};

use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{page, spoken, stoppable_progress};
use crate::desktop::ui::wording::counted;
use crate::shaping::ShapingSettings;
use crate::shaping_class::{ClassSettings, PairRow, ShapingClass, ShapingRubric};
use groups::Groups;
use work::{BlocksRecord, Order};

/// Share of the width that the list of pairs takes.
const LIST_SHARE: f32 = 0.55;
/// Share of the list's height before what is not graded.
const ROWS_SHARE: f32 = 0.72;
/// Monte Carlo draws of a quick look.
const QUICK_DRAWS: usize = 400;

const TABLES: &[FileKind] = &[
    FileKind {
        name: "Tables",
        endings: &["csv", "txt", "tsv"],
    },
    ALL_FILES,
];
const RUBRICS: &[FileKind] = &[
    FileKind {
        name: "Rubrics",
        endings: &["json"],
    },
    ALL_FILES,
];

/// What a file is chosen for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum ChosenFor {
    Pairs,
    Rubric,
    Record(BlocksRecord),
}

/// What a job brings back.
enum Outcome {
    Chosen(ChosenFor, Option<PathBuf>),
    Pairs(Result<(PathBuf, Vec<PairRow>), String>),
    Rubric(Result<(PathBuf, ShapingRubric), String>),
    /// `None`: it was stopped.
    Graded(Box<Option<ShapingClass>>),
    Written(Result<String, String>),
}

/// What stands beside the list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Tab {
    #[default]
    Pair,
    Groups,
}

/// The part of the class page about blocks.
#[derive(Default)]
pub struct Blocks {
    pairs: Option<(PathBuf, Vec<PairRow>)>,
    rubric: Option<(PathBuf, ShapingRubric)>,
    follows_walls: bool,
    is_quick: bool,
    jobs: Jobs<Outcome>,
    /// Grading or writing under way.
    running: Option<LongJob>,
    order_under_way: Option<Order>,
    /// What was graded, and how.
    graded: Option<(Arc<ShapingClass>, Order)>,
    /// Files are being chosen although a class has been graded.
    is_choosing: bool,
    selected: usize,
    tab: Tab,
    groups: Groups,
    message: String,
    problem: Option<String>,
    /// A table dropped on the page.
    dropped: Option<PathBuf>,
}

impl Blocks {
    /// Shows what is chosen, or what was graded.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        match self.graded.clone().filter(|_| !self.is_choosing) {
            Some((class, _)) => self.class(ui, session, &class),
            None => self.choice(ui, session),
        }
    }

    fn choice(&mut self, ui: &mut Ui, session: &mut Session) {
        let purpose = "Pairs of cases, each before and after shaping, held against a rubric; two \
                       groups are compared level by level.";
        page(ui, "Grade a class of blocks", purpose, |ui| {
            let is_free = self.running.is_none();
            ui.add_enabled_ui(is_free, |ui| {
                self.pairs_part(ui, session);
                self.rubric_part(ui, session);
            });
            ui.add_space(14.0);
            match &self.running {
                Some(running) => {
                    if stoppable_progress(ui, running.progress(), &running.words()) {
                        running.cancel();
                    }
                }
                None => self.grade_part(ui),
            }
            self.state(ui);
        });
    }

    fn pairs_part(&mut self, ui: &mut Ui, session: &mut Session) {
        let quiet = palette::of(ui).quiet_text;
        ui.add_space(14.0);
        ui.label(RichText::new("Pairs").heading().strong());
        let what = "A table with the columns before and after (case files, seen from the table's \
                    folder) and, if wanted, student and group.";
        ui.label(RichText::new(what).color(quiet));
        if let Some((path, rows)) = &self.pairs {
            let words = format!("{}: {}", counted(rows.len(), "pair"), path.display());
            ui.add(egui::Label::new(&words).truncate())
                .on_hover_text(&words);
        }
        if ui.button("Choose the table of pairs…").clicked() {
            self.ask(&ui.ctx().clone(), session, ChosenFor::Pairs);
        }
        ui.checkbox(&mut self.follows_walls, "Follow walls")
            .on_hover_text("Look for the canal's walls on the films where a case has none");
        ui.checkbox(&mut self.is_quick, format!("Quick ({QUICK_DRAWS} draws)"))
            .on_hover_text("Intervals from fewer draws: sooner there, a little rougher");
    }

    fn rubric_part(&mut self, ui: &mut Ui, session: &mut Session) {
        ui.add_space(14.0);
        ui.label(RichText::new("Rubric").heading().strong());
        ui.horizontal_wrapped(|ui| {
            match &self.rubric {
                None => ui.label("built-in"),
                Some((path, rubric)) => ui
                    .label(RichText::new(&rubric.name).strong())
                    .on_hover_text(path.display().to_string()),
            };
            if ui.button("Choose a rubric…").clicked() {
                self.ask(&ui.ctx().clone(), session, ChosenFor::Rubric);
            }
            if self.rubric.is_some() && ui.button("Use the built-in rubric").clicked() {
                self.rubric = None;
            }
        });
    }

    fn grade_part(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            let button = Button::new(RichText::new("Grade").strong());
            let button = button.min_size(egui::vec2(160.0, 32.0));
            if ui.add_enabled(self.pairs.is_some(), button).clicked() {
                self.grade(&ui.ctx().clone());
            }
            if self.pairs.is_none() {
                let words = RichText::new("Choose the table of pairs first");
                ui.label(words.color(palette::of(ui).quiet_text));
            }
            if self.graded.is_some() && ui.button("Back to the class of blocks").clicked() {
                self.is_choosing = false;
            }
        });
    }

    /// What was done, and what went wrong.
    fn state(&self, ui: &mut Ui) {
        let palette = palette::of(ui);
        if !self.message.is_empty() {
            let words = RichText::new(&self.message).color(palette.quiet_text);
            ui.add(egui::Label::new(words).truncate())
                .on_hover_text(&self.message);
        }
        if let Some(problem) = &self.problem {
            let words = RichText::new(problem).color(palette.alarm);
            spoken(&ui.label(words), &format!("Not done: {problem}"));
        }
    }

    fn class(&mut self, ui: &mut Ui, session: &mut Session, class: &Arc<ShapingClass>) {
        let ctx = ui.ctx().clone();
        ui.horizontal_wrapped(|ui| {
            if ui.button("Change files…").clicked() {
                self.is_choosing = true;
            }
            let is_free = self.running.is_none();
            for (name, record) in [
                ("Export table (CSV)…", BlocksRecord::Table),
                ("Feedback sheets…", BlocksRecord::Sheets),
            ] {
                if ui.add_enabled(is_free, Button::new(name)).clicked() {
                    self.ask(&ctx, session, ChosenFor::Record(record));
                }
            }
            if let Some(running) = &self.running {
                ui.label(running.words());
                if ui.button("Stop").clicked() {
                    running.cancel();
                }
            }
        });
        self.state(ui);
        let rest = ui.available_rect_before_wrap();
        let (left, right) = rest.split_left_right_at_x(rest.left() + rest.width() * LIST_SHARE);
        let (rows, below) = left.split_top_bottom_at_fraction(ROWS_SHARE);
        self.selected = self.selected.min(class.pairs.len().saturating_sub(1));
        part(ui, "block list", rows, |ui| {
            if let Some(index) = list::pairs(ui, class, self.selected) {
                self.selected = index;
                self.tab = Tab::Pair;
            }
        });
        part(ui, "blocks refused", below, |ui| {
            ScrollArea::vertical()
                .id_salt("blocks not graded")
                .show(ui, |ui| list::refused(ui, class));
        });
        part(
            ui,
            "block shown",
            right.with_min_x(right.left() + 12.0),
            |ui| {
                ui.horizontal_wrapped(|ui| {
                    for (tab, name) in [(Tab::Pair, "The pair"), (Tab::Groups, "Groups")] {
                        let button = Button::selectable(self.tab == tab, name);
                        if ui.add(button.frame_when_inactive(true)).clicked() {
                            self.tab = tab;
                        }
                    }
                });
                match (self.tab, &class.groups, class.pairs.get(self.selected)) {
                    (Tab::Pair, _, Some(pair)) => {
                        ScrollArea::vertical()
                            .id_salt("block detail")
                            .show(ui, |ui| list::detail(ui, pair));
                    }
                    (Tab::Pair, _, None) => {
                        ui.label("No pair could be graded; the reasons are on the left.");
                    }
                    (Tab::Groups, Some(groups), _) => self.groups.show(ui, groups),
                    (Tab::Groups, None, _) => {
                        let words = "Groups are compared where the table names exactly two in its \
                                 column group.";
                        ui.label(words);
                    }
                }
            },
        );
    }

    fn order(&self) -> Option<Order> {
        let (_, rows) = self.pairs.clone()?;
        let mut shaping = ShapingSettings::default();
        if self.is_quick {
            shaping.draws = QUICK_DRAWS;
            shaping.measure.draws = QUICK_DRAWS;
        }
        Some(Order {
            rows,
            settings: ClassSettings {
                rubric: self
                    .rubric
                    .clone()
                    .map(|(_, rubric)| rubric)
                    .unwrap_or_default(),
                shaping,
                follow_walls: self.follows_walls,
            },
        })
    }

    fn grade(&mut self, ctx: &Context) {
        let Some(order) = self.order() else {
            return;
        };
        let running = LongJob::begin("Grading");
        let (watched, waker) = (running.clone(), ctx.clone());
        let of = order.clone();
        let started = self.jobs.start(ctx, JobName::Grade, move || {
            let wake = || waker.request_repaint();
            let graded = watched.watched(wake, |progress| work::grade(&of, progress));
            Outcome::Graded(Box::new(graded))
        });
        if started {
            self.running = Some(running);
            self.graded = None;
            self.is_choosing = true;
            self.message.clear();
            self.problem = None;
            self.order_under_way = Some(order);
        }
    }

    fn write(&mut self, ctx: &Context, kind: BlocksRecord, path: PathBuf) {
        let Some((class, order)) = self.graded.clone() else {
            return;
        };
        let running = LongJob::begin(match kind {
            BlocksRecord::Table => "Writing the table",
            BlocksRecord::Sheets => "Writing sheets",
        });
        let (watched, waker) = (running.clone(), ctx.clone());
        let started = self.jobs.start(ctx, JobName::Record, move || {
            let wake = || waker.request_repaint();
            Outcome::Written(watched.watched(wake, |progress| {
                work::write(kind, &order, &class, &path, progress)
            }))
        });
        if started {
            self.running = Some(running);
        }
    }

    fn ask(&mut self, ctx: &Context, session: &mut Session, wanted: ChosenFor) {
        let folder = self.pairs.as_ref();
        let folder = folder.and_then(|(path, _)| Some(path.parent()?.to_owned()));
        let (title, kind, kinds, name) = match wanted {
            ChosenFor::Pairs => ("Choose the table of pairs", Wanted::File, TABLES, ""),
            ChosenFor::Rubric => ("Choose a rubric for shaping", Wanted::File, RUBRICS, ""),
            ChosenFor::Record(BlocksRecord::Table) => (
                "Save the table of the class",
                Wanted::NewFile { ending: "csv" },
                TABLES,
                "blocks-graded.csv",
            ),
            ChosenFor::Record(BlocksRecord::Sheets) => {
                ("Folder for the feedback sheets", Wanted::Folder, TABLES, "")
            }
        };
        let question = Question {
            title,
            wanted: kind,
            kinds,
            folder,
            name: name.to_owned(),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs.start(ctx, JobName::FileDialog, move || {
            Outcome::Chosen(wanted, answer.wait().into_iter().next())
        });
    }

    fn take(&mut self, ctx: &Context, outcome: Outcome) {
        match outcome {
            Outcome::Chosen(_, None) => {}
            Outcome::Chosen(ChosenFor::Pairs, Some(path)) => {
                self.jobs.start(ctx, JobName::Open, move || {
                    Outcome::Pairs(work::read(&path))
                });
            }
            Outcome::Chosen(ChosenFor::Rubric, Some(path)) => {
                self.jobs.start(ctx, JobName::Open, move || {
                    Outcome::Rubric(work::read_rubric(&path))
                });
            }
            Outcome::Chosen(ChosenFor::Record(kind), Some(path)) => self.write(ctx, kind, path),
            Outcome::Pairs(Ok(pairs)) => {
                self.pairs = Some(pairs);
                self.problem = None;
            }
            Outcome::Rubric(Ok(rubric)) => {
                self.rubric = Some(rubric);
                self.problem = None;
            }
            Outcome::Graded(graded) => {
                self.running = None;
                match (*graded, self.order_under_way.take()) {
                    (Some(class), Some(order)) => {
                        self.message = class_words(&class);
                        self.graded = Some((Arc::new(class), order));
                        self.is_choosing = false;
                        self.selected = 0;
                    }
                    _ => self.message = "Stopped: nothing is graded".to_owned(),
                }
            }
            Outcome::Written(written) => {
                self.running = None;
                match written {
                    Ok(words) => self.message = words,
                    Err(problem) => self.problem = Some(problem),
                }
            }
            Outcome::Pairs(Err(problem)) | Outcome::Rubric(Err(problem)) => {
                self.problem = Some(problem);
            }
        }
    }

    /// Takes a dropped table of pairs.
    pub fn take_files(&mut self, paths: &[PathBuf]) -> bool {
        let [path] = paths else {
            return false;
        };
        let is_table = path.is_file();
        if is_table {
            self.dropped = Some(path.clone());
            self.is_choosing = true;
        }
        is_table
    }

    /// Takes what its jobs have brought.
    pub fn poll(&mut self, ctx: &Context, session: &mut Session) {
        if let Some(path) = self.dropped.take() {
            self.take(ctx, Outcome::Chosen(ChosenFor::Pairs, Some(path)));
        }
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(outcome) => self.take(ctx, outcome),
                JobEnd::Lost(name) => {
                    self.running = None;
                    session.report_error(format!(
                        "{} stopped before its end; nothing was changed",
                        name.words()
                    ));
                }
            }
        }
    }

    /// A job is under way.
    pub fn is_busy(&self) -> bool {
        [JobName::Open, JobName::Grade, JobName::Record]
            .into_iter()
            .any(|name| self.jobs.is_running(name))
    }

    /// The window closes.
    pub fn close(&self) {
        if let Some(running) = &self.running {
            running.cancel();
        }
    }
}

/// What grading has come to, in one line.
fn class_words(class: &ShapingClass) -> String {
    let mut words = format!(
        "{} of {} graded; {} passed",
        counted(class.pairs.len(), "pair"),
        counted(class.students, "student"),
        counted(class.students_passed, "student")
    );
    if !class.refused.is_empty() {
        words += &format!("; {} not graded", class.refused.len());
    }
    words
}

/// A part of the page.
fn part(ui: &mut Ui, name: &str, rect: egui::Rect, show: impl FnOnce(&mut Ui)) {
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(rect), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}
