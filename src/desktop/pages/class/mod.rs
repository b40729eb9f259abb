//! A class in the window: traces of one film, or of each film of a practice
//! set, graded, listed, laid over the film and compared.
//!
//! [`choice`] asks what to grade, [`work`] grades it beside the window,
//! [`table`] and [`density`] are what is shown, the rest shows it.

mod blocks;
mod choice;
mod chosen;
mod density;
mod detail;
mod file_kinds;
mod files;
mod items;
mod kind;
mod list;
mod marking;
mod numbers;
mod picture;
mod plots;
mod progress;
mod records;
mod rubric;
mod set;
mod table;
mod traces;
mod view;
mod work;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Button, ComboBox, Context, RichText, Ui, UiBuilder};

use crate::desktop::state::jobs::{JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::page::Page;
use crate::desktop::state::session::{Next, Session};
use crate::desktop::ui::palette::{self, text_scale};
use crate::grading::files::ClassGrade;
use crate::grading::private::PrivateText;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;
use blocks::{Blocks, PairToOpen};
use choice::{Against, Asked, Choice, Wanted};
use kind::Kind;
use list::List;
use marking::Marking;
use picture::Picture;
use table::{RowOf, Table};
use work::{Found, Graded, Pictured};

pub use choice::ClassRecord;

/// Share of the width the table takes.
const TABLE_SHARE: f32 = 0.56;
/// Share of the height the chosen row's words take.
const DETAIL_SHARE: f32 = 0.36;

/// What stands beside the table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Tab {
    #[default]
    Film,
    Distribution,
    BlandAltman,
    Agreement,
    /// What is hard.
    Items,
    /// Every student's total, and what could not be graded.
    Students,
    /// Learning over the graded cases.
    Progress,
}

impl Tab {
    const ALL: [(Tab, &str); 7] = [
        (Tab::Film, "Film"),
        (Tab::Distribution, "Distribution"),
        (Tab::BlandAltman, "Bland–Altman"),
        (Tab::Agreement, "Agreement"),
        (Tab::Items, "Items"),
        (Tab::Students, "Students"),
        (Tab::Progress, "Progress"),
    ];
}

/// What a job brings back.
enum Outcome {
    Chosen {
        wanted: Wanted,
        paths: Vec<PathBuf>,
    },
    /// A rubric was chosen and read.
    Rubric(Result<(PathBuf, Rubric), String>),
    /// A list of students was chosen and read.
    Roster(Result<(PathBuf, Roster), String>),
    /// The rubric as it was changed has been written there.
    RubricSaved(Result<PathBuf, String>),
    Graded(Box<Result<Found, String>>),
    Pictured {
        film: usize,
        of: Arc<Graded>,
        pictured: Box<Result<Pictured, PrivateText>>,
    },
    Written(Result<String, String>),
}

/// What was graded, on the screen.
struct Shown {
    /// With the names as they are; what the film's place is known from.
    named: Arc<Graded>,
    /// As shown: with names or numbers.
    graded: Arc<Graded>,
    /// Which film of it.
    film: usize,
    list: List,
    /// Once the film has been opened.
    picture: Option<Picture>,
    distribution: plots::Distribution,
    progress: progress::ProgressTab,
}

impl Shown {
    fn class(&self) -> &ClassGrade {
        self.graded.class(self.film)
    }
}

/// The page.
#[derive(Default)]
pub struct ClassPage {
    kind: Kind,
    blocks: Blocks,
    marking: Marking,
    choice: Choice,
    jobs: Jobs<Outcome>,
    grading: Option<LongJob>,
    writing: Option<LongJob>,
    shown: Option<Box<Shown>>,
    /// The files are being chosen although a class has been graded.
    choosing: bool,
    numbers_for_names: bool,
    tab: Tab,
    message: String,
}

impl ClassPage {
    /// Asks for the traces of an exercise set.
    pub fn choose_exercises(&mut self, sealed: Option<PathBuf>) {
        self.choosing = true;
        self.kind = Kind::Traces;
        self.choice.against = Against::SealedTruth;
        self.choice.sealed = sealed.or(self.choice.sealed.take());
    }

    /// Learns which case is open, to be offered as the reference.
    pub fn know_open_case(&mut self, path: Option<&Path>) {
        if self.choice.open_case.as_deref() != path {
            self.choice.open_case = path.map(Path::to_owned);
        }
    }

    /// Takes case files and folders to grade.
    pub fn add_files(&mut self, paths: Vec<PathBuf>) {
        self.choosing = true;
        self.kind = Kind::Traces;
        self.choice.add_traces(paths);
    }

    /// Grades cases and folders against a reference.
    pub fn grade(&mut self, ctx: &Context, reference: Vec<PathBuf>, traces: Vec<PathBuf>) {
        self.kind = Kind::Traces;
        self.choice.against = Against::Experts;
        self.choice.reference = reference;
        self.choice.traces = traces;
        self.start_grading(ctx);
    }

    fn start_grading(&mut self, ctx: &Context) {
        let choice = self.choice.clone();
        let started = self
            .jobs
            .start_long(ctx, JobName::Grade, "Grading", move |progress| {
                Outcome::Graded(Box::new(work::grade(&choice, progress)))
            });
        if started.is_some() {
            self.grading = started;
            self.message.clear();
        }
    }

    /// A pair of blocks to be looked at on the page of before and after; told
    /// once.
    pub fn take_pair_to_open(&mut self) -> Option<PairToOpen> {
        self.blocks.take_pair_to_open()
    }

    fn take_graded(&mut self, ctx: &Context, graded: Graded) {
        self.message = graded.words();
        self.choosing = false;
        let named = Arc::new(graded);
        self.shown = Some(Box::new(Shown {
            list: List::of(Table::of(named.class(0))),
            graded: Arc::clone(&named),
            named,
            film: 0,
            picture: None,
            distribution: plots::Distribution::default(),
            progress: progress::ProgressTab::default(),
        }));
        self.put_names();
        self.open_film(ctx);
    }

    /// Puts names or numbers in force.
    fn put_names(&mut self) {
        if let Some(shown) = &mut self.shown {
            shown.graded = if self.numbers_for_names {
                let mut graded = Graded::clone(&shown.named);
                graded.numbers_for_names();
                Arc::new(graded)
            } else {
                Arc::clone(&shown.named)
            };
            shown.list.set_table(Table::of(shown.class()));
            shown.progress.forget();
        }
    }

    /// Turns to another film of the set.
    fn turn_to(&mut self, ctx: &Context, film: usize) {
        if let Some(shown) = &mut self.shown {
            shown.film = film;
            shown.list = List::of(Table::of(shown.class()));
            shown.picture = None;
            self.open_film(ctx);
        }
    }

    /// Opens the film shown, for its picture; one at a time.
    fn open_film(&mut self, ctx: &Context) {
        let Some(shown) = &self.shown else { return };
        let (film, of) = (shown.film, Arc::clone(&shown.named));
        self.jobs.start(ctx, JobName::Open, move || {
            let pictured = Box::new(work::pictured(of.class(film), of.film_path(film)));
            Outcome::Pictured { film, of, pictured }
        });
    }

    fn take_picture(
        &mut self,
        ctx: &Context,
        film: usize,
        of: &Arc<Graded>,
        pictured: Result<Pictured, PrivateText>,
        session: &mut Session,
    ) {
        let Some(shown) = &mut self.shown else { return };
        if !(shown.film == film && Arc::ptr_eq(of, &shown.named)) {
            // Another film has been turned to meanwhile.
            return self.open_film(ctx);
        }
        match pictured {
            Ok(Pictured { film, density }) => {
                shown.picture = Some(Picture::new(&film, density, shown.class()));
            }
            Err(mut problem) => {
                if self.numbers_for_names {
                    problem.hide_names();
                }
                session.report_error(problem.to_string());
            }
        }
    }

    /// Writes the table or the feedback sheets, as the file dialog's answer
    /// does.
    pub fn save_to(&mut self, ctx: &Context, kind: ClassRecord, path: &Path) {
        let Some(shown) = &self.shown else { return };
        let graded = Arc::clone(&shown.graded);
        let path = path.to_owned();
        let film = shown.named.film_path(shown.film).to_owned();
        let started = self
            .jobs
            .start_long(ctx, JobName::Record, kind.doing(), move |progress| {
                Outcome::Written(kind.write(&graded, &film, &path, progress))
            });
        self.writing = started.or(self.writing.take());
    }

    /// Writes the truth of the set chosen in the open, as the folder dialog's
    /// answer does.
    pub fn open_truth_to(&mut self, ctx: &Context, folder: &Path) {
        let (choice, folder) = (self.choice.clone(), folder.to_owned());
        self.jobs.start(ctx, JobName::Record, move || {
            Outcome::Written(work::open_truth(&choice, &folder))
        });
    }

    fn choosing_page(&mut self, ui: &mut Ui, session: &mut Session) -> Option<Asked> {
        ui.horizontal(|ui| {
            if ui.button("Back to the case").clicked() {
                session.page = Page::Case;
            }
            if self.shown.is_some()
                && self.grading.is_none()
                && ui.button("Back to the class").clicked()
            {
                self.choosing = false;
            }
            self.kind(ui);
            if self.grading.is_none() {
                self.show_message(ui);
            }
        });
        choice::show(ui, &mut self.choice, self.grading.as_ref())
    }

    fn class_page(&mut self, ui: &mut Ui, session: &mut Session) -> Option<Asked> {
        let asked = self.head(ui, session);
        let Some(shown) = &mut self.shown else {
            return asked;
        };
        let whole = ui.available_rect_before_wrap();
        let gap = 8.0;
        let mut open = None;
        let (left, right) = whole.split_left_right_at_fraction(TABLE_SHARE);
        let left = left.with_max_x(left.right() - gap);
        let (rows, detail) = left.split_top_bottom_at_fraction(1.0 - DETAIL_SHARE);
        let line = ui.visuals().widgets.noninteractive.bg_stroke;
        ui.painter()
            .vline(right.left() - gap / 2.0, whole.y_range(), line);
        ui.painter().hline(left.x_range(), detail.top(), line);
        part(
            ui,
            "class rows",
            rows.with_max_y(rows.bottom() - gap),
            |ui| {
                shown.list.show(ui);
            },
        );
        part(
            ui,
            "class detail",
            detail.with_min_y(detail.top() + gap),
            |ui| {
                let selected = shown.list.selected;
                if detail::show(ui, shown.class(), selected, self.numbers_for_names) {
                    open = opened_case(shown);
                }
            },
        );
        if let Some(path) = open {
            session.page = Page::Case;
            let film = shown.named.film_path(shown.film).to_owned();
            session.next = Some(Next::OpenOn { case: path, film });
        }
        let right = right.with_min_x(right.left() + gap / 2.0);
        let selected = shown.list.selected;
        part(ui, "class pages", right, |ui| {
            ui.horizontal_wrapped(|ui| {
                // Seven in one row of a window 1280 wide.
                ui.spacing_mut().item_spacing.x = 3.0;
                ui.spacing_mut().button_padding.x = 5.0;
                for (tab, name) in Tab::ALL {
                    let button =
                        Button::selectable(self.tab == tab, name).frame_when_inactive(true);
                    if ui.add(button).clicked() {
                        self.tab = tab;
                    }
                }
            });
            let graded = Arc::clone(&shown.graded);
            let class = graded.class(shown.film);
            match self.tab {
                Tab::Film => match &mut shown.picture {
                    Some(picture) => {
                        picture.switches(ui);
                        let chosen = plots::chosen_canal(class, selected);
                        picture.show(ui, class, chosen);
                    }
                    None => {
                        let words = match self.jobs.is_running(JobName::Open) {
                            true => "Opening the film…",
                            false => "The film cannot be shown",
                        };
                        ui.label(RichText::new(words).color(palette::of(ui).quiet_text));
                    }
                },
                Tab::Distribution => shown.distribution.show(ui, class, selected),
                Tab::BlandAltman => {
                    if let Some(row) = plots::bland_altman(ui, class, selected) {
                        shown.list.select(row);
                    }
                }
                Tab::Agreement => numbers::show(ui, class),
                Tab::Items => {
                    let (lines, levels) = graded.items();
                    items::show(ui, &class.rubric, lines, levels);
                }
                Tab::Students => set::show(ui, "Traces", graded.students(), graded.refused()),
                Tab::Progress => shown.progress.show(ui, &graded.traces()),
            }
        });
        asked
    }

    /// What can be done with the class, and what was done last.
    fn head(&mut self, ui: &mut Ui, session: &mut Session) -> Option<Asked> {
        let mut asked = None;
        ui.horizontal(|ui| {
            if ui.button("Back to the case").clicked() {
                session.page = Page::Case;
            }
            if ui.button("Change files…").clicked() {
                self.choosing = true;
            }
            self.film_chooser(ui);
            ui.add_enabled_ui(self.writing.is_none(), |ui| {
                if ui.button("Export table (CSV)…").clicked() {
                    asked = Some(Asked::Files(Wanted::Record(ClassRecord::Table)));
                }
                if ui.button("Totals (CSV)…").clicked() {
                    asked = Some(Asked::Files(Wanted::Record(ClassRecord::Totals)));
                }
                if ui.button("Summary (PDF)…").clicked() {
                    asked = Some(Asked::Files(Wanted::Record(ClassRecord::Summary)));
                }
                if ui.button("Feedback sheets…").clicked() {
                    asked = Some(Asked::Files(Wanted::Record(ClassRecord::Sheets)));
                }
            });
            let numbers = ui
                .checkbox(&mut self.numbers_for_names, "Anonymise")
                .on_hover_text("On the screen, in the table and on the feedback sheets");
            if numbers.changed() {
                self.put_names();
            }
            if let Some(writing) = &self.writing {
                ui.label(writing.words());
                if ui.button("Stop").clicked() {
                    writing.cancel();
                }
            }
        });
        // On a line of its own, where all of it can be read.
        self.show_message(ui);
        ui.add_space(2.0 * text_scale(ui));
        asked
    }

    /// Which film of an exercise set is shown.
    fn film_chooser(&mut self, ui: &mut Ui) {
        let Some(shown) = &self.shown else { return };
        let Graded::Set(set) = &*shown.graded else {
            return;
        };
        let mut film = shown.film;
        ComboBox::from_id_salt("film of the set")
            .selected_text(&set.films[film].film)
            .show_ui(ui, |ui| {
                for (index, one) in set.films.iter().enumerate() {
                    ui.selectable_value(&mut film, index, &one.film);
                }
            })
            .response
            .accessible_name("Film of the set");
        if film != shown.film {
            let ctx = ui.ctx().clone();
            self.turn_to(&ctx, film);
        }
    }

    /// What was done last.
    fn show_message(&self, ui: &mut Ui) {
        let text = RichText::new(&self.message).color(palette::of(ui).quiet_text);
        ui.add(egui::Label::new(text).truncate())
            .on_hover_text(&self.message);
    }
}

/// The file of the chosen row, whatever it is called on the screen.
fn opened_case(shown: &Shown) -> Option<PathBuf> {
    let class = shown.named.class(shown.film);
    let file = match shown.list.selected? {
        RowOf::Canal { trace, .. } | RowOf::Missing { trace } => &class.traces.get(trace)?.file,
        RowOf::Refused { file } => &class.refused.get(file)?.file,
    };
    (!file.is_empty()).then(|| PathBuf::from(file))
}

/// A part of the page.
fn part(ui: &mut Ui, name: &str, rect: egui::Rect, show: impl FnOnce(&mut Ui)) {
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(rect), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}
