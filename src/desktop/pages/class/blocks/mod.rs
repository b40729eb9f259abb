//! A class that shapes practice blocks: pairs of cases before and after, graded
//! by a rubric, two groups compared (docs/before-after.md).

mod choice;
mod files;
mod groups;
mod list;
mod work;

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Button, Context, RichText, ScrollArea, Ui, UiBuilder};

use super::set;
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::counted;
use crate::grading::numbering::Numbering;
use crate::progress::Progress;
use crate::shaping::ShapingSettings;
use crate::shaping_class::{ClassSettings, GradedPair, ShapingClass, ShapingRubric};
use groups::Groups;
use work::{BlocksRecord, Order, Source};

pub use work::BlockSet;

/// Share of the width that the list of pairs takes.
const LIST_SHARE: f32 = 0.55;
/// Share of the list's height before what is not graded.
const ROWS_SHARE: f32 = 0.72;
/// Monte Carlo draws of a quick look.
const QUICK_DRAWS: usize = 400;

/// A pair that is to be looked at on the page of before and after.
pub struct PairToOpen {
    pub cases: [PathBuf; 2],
    /// Of an exercise set: its pictures, for cases that came without.
    pub films: Option<[PathBuf; 2]>,
    pub follow_walls: bool,
}

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
    Pairs(Result<(PathBuf, Source), String>),
    Rubric(Result<(PathBuf, ShapingRubric), String>),
    /// `None`: it was stopped.
    Graded(Box<Option<Result<ShapingClass, String>>>),
    Written(Result<String, String>),
}

/// What stands beside the list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Tab {
    #[default]
    Pair,
    /// Every student's total.
    Students,
    Groups,
}

impl Tab {
    const ALL: [(Tab, &str); 3] = [
        (Tab::Pair, "The pair"),
        (Tab::Students, "Students"),
        (Tab::Groups, "Groups"),
    ];
}

/// What was graded.
struct Graded {
    /// With the names as they are.
    named: Arc<ShapingClass>,
    /// As shown: with names or numbers.
    shown: Arc<ShapingClass>,
    /// How it was graded.
    order: Order,
}

/// The part of the class page about blocks.
#[derive(Default)]
pub struct Blocks {
    /// What is to be graded, and the file that says so.
    pairs: Option<(PathBuf, Source)>,
    rubric: Option<(PathBuf, ShapingRubric)>,
    follows_walls: bool,
    is_quick: bool,
    jobs: Jobs<Outcome>,
    /// Grading or writing under way.
    running: Option<LongJob>,
    order_under_way: Option<Order>,
    graded: Option<Graded>,
    numbers_for_names: bool,
    to_open: Option<PairToOpen>,
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
        let graded = self.graded.as_ref().filter(|_| !self.is_choosing);
        match graded.map(|graded| Arc::clone(&graded.shown)) {
            Some(class) => self.class(ui, session, &class),
            None => self.choice(ui, session),
        }
    }

    /// Grades the blocks of an exercise set that was opened.
    pub fn grade_set(&mut self, ctx: &Context, sealed: PathBuf, set: BlockSet) {
        self.pairs = Some((sealed, Source::Set(Arc::new(set))));
        self.grade(ctx);
    }

    /// A pair to be looked at on the page of before and after; told once.
    pub fn take_pair_to_open(&mut self) -> Option<PairToOpen> {
        self.to_open.take()
    }

    /// Puts names or numbers in force.
    fn put_names(&mut self) {
        if let Some(graded) = &mut self.graded {
            graded.shown = Arc::clone(&graded.named);
            if self.numbers_for_names {
                let mut class = ShapingClass::clone(&graded.named);
                class.numbers_for_names(&mut Numbering::default());
                graded.shown = Arc::new(class);
            }
        }
    }

    /// The files of the pair chosen, whatever they are called on the screen.
    fn chosen_pair(&self) -> Option<PairToOpen> {
        let graded = self.graded.as_ref()?;
        let pair: &GradedPair = graded.named.pairs.get(self.selected)?;
        Some(PairToOpen {
            cases: [&pair.before, &pair.after].map(PathBuf::from),
            films: graded.order.source.films_of(pair.block.as_deref()),
            follow_walls: graded.order.settings.follow_walls,
        })
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
                ("Totals (CSV)…", BlocksRecord::Totals),
                ("Feedback sheets…", BlocksRecord::Sheets),
            ] {
                if ui.add_enabled(is_free, Button::new(name)).clicked() {
                    self.ask(&ctx, session, ChosenFor::Record(record));
                }
            }
            let numbers = ui
                .checkbox(&mut self.numbers_for_names, "Anonymise")
                .on_hover_text("On the screen, in the tables and on the feedback sheets");
            if numbers.changed() {
                self.put_names();
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
                    for (tab, name) in Tab::ALL {
                        let button = Button::selectable(self.tab == tab, name);
                        if ui.add(button.frame_when_inactive(true)).clicked() {
                            self.tab = tab;
                        }
                    }
                });
                match (self.tab, &class.groups, class.pairs.get(self.selected)) {
                    (Tab::Pair, _, Some(pair)) => {
                        let open = ScrollArea::vertical()
                            .id_salt("block detail")
                            .show(ui, |ui| list::detail(ui, pair, self.numbers_for_names));
                        if open.inner {
                            self.to_open = self.chosen_pair();
                        }
                    }
                    (Tab::Students, ..) => set::show(ui, "Pairs", &class.totals, &[]),
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
        let (_, source) = self.pairs.clone()?;
        let mut shaping = ShapingSettings::default();
        if self.is_quick {
            shaping.draws = QUICK_DRAWS;
            shaping.measure.draws = QUICK_DRAWS;
        }
        let built_in = || match &source {
            Source::Table(_) => ShapingRubric::default(),
            Source::Set(_) => ShapingRubric::exercise(),
        };
        let own = self.rubric.as_ref().map(|(_, rubric)| rubric.clone());
        Some(Order {
            settings: ClassSettings {
                rubric: own.unwrap_or_else(built_in),
                shaping,
                follow_walls: self.follows_walls,
            },
            source,
        })
    }

    fn grade(&mut self, ctx: &Context) {
        let Some(order) = self.order() else {
            return;
        };
        let of = order.clone();
        let started = self.start(ctx, JobName::Grade, "Grading", move |progress| {
            Outcome::Graded(Box::new(work::grade(&of, progress)))
        });
        if started {
            self.graded = None;
            self.is_choosing = true;
            self.message.clear();
            self.problem = None;
            self.order_under_way = Some(order);
        }
    }

    fn write(&mut self, ctx: &Context, kind: BlocksRecord, path: PathBuf) {
        let Some(graded) = &self.graded else {
            return;
        };
        let (class, order) = (Arc::clone(&graded.shown), graded.order.clone());
        let anonymous = self.numbers_for_names;
        let doing = match kind {
            BlocksRecord::Table | BlocksRecord::Totals => "Writing the table",
            BlocksRecord::Sheets => "Writing sheets",
        };
        self.start(ctx, JobName::Record, doing, move |progress| {
            let written = work::write(kind, &order, &class, anonymous, &path, progress);
            Outcome::Written(written)
        });
    }

    /// Starts what can be watched and stopped; one at a time.
    fn start(
        &mut self,
        ctx: &Context,
        name: JobName,
        doing: &'static str,
        work: impl FnOnce(&Progress) -> Outcome + Send + 'static,
    ) -> bool {
        if self.running.is_some() {
            return false;
        }
        self.running = self.jobs.start_long(ctx, name, doing, work);
        self.running.is_some()
    }

    fn take(&mut self, ctx: &Context, outcome: Outcome) {
        if !matches!(outcome, Outcome::Chosen(..)) {
            self.running = None;
        }
        match outcome {
            Outcome::Chosen(_, None) => {}
            Outcome::Chosen(ChosenFor::Pairs, Some(path)) => {
                self.start(ctx, JobName::Open, "Reading the table", move |progress| {
                    Outcome::Pairs(work::read(&path, progress))
                });
            }
            Outcome::Chosen(ChosenFor::Rubric, Some(path)) => {
                self.start(ctx, JobName::Open, "Reading the rubric", move |progress| {
                    Outcome::Rubric(work::read_rubric(&path, progress))
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
            Outcome::Graded(graded) => match (*graded, self.order_under_way.take()) {
                (Some(Ok(class)), Some(order)) => {
                    self.message = class_words(&class);
                    let named = Arc::new(class);
                    self.graded = Some(Graded {
                        shown: Arc::clone(&named),
                        named,
                        order,
                    });
                    self.put_names();
                    self.is_choosing = false;
                    self.selected = 0;
                }
                (Some(Err(problem)), _) => self.problem = Some(problem),
                _ => self.message = "Stopped: nothing is graded".to_owned(),
            },
            Outcome::Written(Ok(words)) => self.message = words,
            Outcome::Pairs(Err(problem))
            | Outcome::Rubric(Err(problem))
            | Outcome::Written(Err(problem)) => self.problem = Some(problem),
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
