//! A class in the window: traces of one film, or of each film of a practice
//! set, graded, listed, laid over the film and compared.
//!
//! [`choice`] asks what to grade, [`work`] grades it beside the window,
//! [`table`] and [`density`] are what is shown, the rest shows it.

mod choice;
mod density;
mod detail;
mod files;
mod list;
mod numbers;
mod picture;
mod plots;
mod records;
mod set;
mod table;
mod traces;
mod work;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Button, ComboBox, Context, RichText, Ui, UiBuilder};

use crate::desktop::state::command::Command;
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::text_scale;
use crate::desktop::view::ZOOM_STEP;
use crate::grading::files::ClassGrade;
use crate::grading::rubric::Rubric;
use choice::{Against, Asked, Choice, Wanted};
use list::List;
use picture::Picture;
use table::Table;
use work::{Graded, Pictured};

pub use choice::ClassRecord;

/// Share of the width the table takes.
const TABLE_SHARE: f32 = 0.57;
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
    /// Every student over all films of a practice set.
    WholeSet,
}

impl Tab {
    const ALL: [(Tab, &str); 5] = [
        (Tab::Film, "On the film"),
        (Tab::Distribution, "Distribution"),
        (Tab::BlandAltman, "Bland–Altman"),
        (Tab::Agreement, "Agreement"),
        (Tab::WholeSet, "Whole set"),
    ];
}

/// What a job brings back.
enum Outcome {
    Chosen {
        wanted: Wanted,
        paths: Vec<PathBuf>,
    },
    Graded(Box<Result<Graded, String>>),
    Pictured {
        film: usize,
        of: Arc<Graded>,
        pictured: Box<Result<Pictured, String>>,
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
}

impl Shown {
    fn class(&self) -> &ClassGrade {
        self.graded.class(self.film)
    }
}

/// The page.
#[derive(Default)]
pub struct ClassPage {
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
    /// Asks for the traces of a practice set.
    pub fn choose_exercises(&mut self, sealed: Option<PathBuf>) {
        self.choosing = true;
        self.choice.against = Against::SealedTruth;
        self.choice.sealed = sealed.or(self.choice.sealed.take());
    }

    /// Takes case files and folders to grade.
    pub fn add_files(&mut self, paths: Vec<PathBuf>) {
        self.choosing = true;
        self.choice.add_traces(paths);
    }

    /// Grades cases and folders against a reference.
    pub fn grade(&mut self, ctx: &Context, reference: Vec<PathBuf>, traces: Vec<PathBuf>) {
        self.choice.against = Against::Experts;
        self.choice.reference = reference;
        self.choice.traces = traces;
        self.start_grading(ctx);
    }

    fn start_grading(&mut self, ctx: &Context) {
        let running = LongJob::begin("Grading");
        let choice = self.choice.clone();
        let (watched, waker) = (running.clone(), ctx.clone());
        let started = self.jobs.start(ctx, JobName::Grade, move || {
            let wake = || waker.request_repaint();
            let graded = watched.watched(wake, |progress| work::grade(&choice, progress));
            Outcome::Graded(Box::new(graded))
        });
        if started {
            self.grading = Some(running);
            self.message.clear();
        }
    }

    fn take_chosen(
        &mut self,
        ctx: &Context,
        wanted: Wanted,
        paths: Vec<PathBuf>,
        session: &mut Session,
    ) {
        match wanted {
            Wanted::Reference => self.choice.add_reference(paths),
            Wanted::Sealed => {
                if let Some(path) = paths.into_iter().next() {
                    self.choice.set_sealed(path);
                }
            }
            Wanted::OpenTruth => {
                if let Some(folder) = paths.first() {
                    self.open_truth_to(ctx, folder);
                }
            }
            Wanted::Traces | Wanted::TraceFolder => self.choice.add_traces(paths),
            Wanted::Rubric => {
                for path in paths {
                    match Rubric::load(&path) {
                        Ok(rubric) => self.choice.rubric = Some((path, rubric)),
                        Err(problem) => session.report_error(problem.to_string()),
                    }
                }
            }
            Wanted::Record(kind) => {
                if let Some(path) = paths.first() {
                    self.save_to(ctx, kind, path);
                }
            }
        }
    }

    fn take_graded(&mut self, ctx: &Context, graded: Graded) {
        self.message = graded.words();
        self.choosing = false;
        if self.tab == Tab::WholeSet && matches!(graded, Graded::Class(_)) {
            self.tab = Tab::default();
        }
        let named = Arc::new(graded);
        self.shown = Some(Box::new(Shown {
            list: List::of(Table::of(named.class(0))),
            graded: Arc::clone(&named),
            named,
            film: 0,
            picture: None,
            distribution: plots::Distribution::default(),
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
        pictured: Result<Pictured, String>,
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
            Err(problem) => session.report_error(problem),
        }
    }

    /// Writes the table or the feedback sheets, as the file dialog's answer
    /// does.
    pub fn save_to(&mut self, ctx: &Context, kind: ClassRecord, path: &Path) {
        let Some(shown) = &self.shown else { return };
        let graded = Arc::clone(&shown.graded);
        let running = LongJob::begin(kind.doing());
        let (watched, waker, path) = (running.clone(), ctx.clone(), path.to_owned());
        let film = shown.named.film_path(shown.film).to_owned();
        let started = self.jobs.start(ctx, JobName::Record, move || {
            let wake = || waker.request_repaint();
            let written =
                watched.watched(wake, |progress| kind.write(&graded, &film, &path, progress));
            Outcome::Written(written)
        });
        if started {
            self.writing = Some(running);
        }
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
                detail::show(ui, shown.class(), shown.list.selected);
            },
        );
        let right = right.with_min_x(right.left() + gap / 2.0);
        let selected = shown.list.selected;
        part(ui, "class pages", right, |ui| {
            let is_set = matches!(*shown.graded, Graded::Set(_));
            ui.horizontal(|ui| {
                let tabs = Tab::ALL.into_iter();
                for (tab, name) in tabs.filter(|(tab, _)| is_set || *tab != Tab::WholeSet) {
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
                Tab::BlandAltman => plots::bland_altman(ui, class, selected),
                Tab::Agreement => numbers::show(ui, class),
                Tab::WholeSet => {
                    if let Graded::Set(set) = &*graded {
                        set::show(ui, set);
                    }
                }
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
                if ui.button("Feedback sheets…").clicked() {
                    asked = Some(Asked::Files(Wanted::Record(ClassRecord::Sheets)));
                }
            });
            let numbers = ui
                .checkbox(&mut self.numbers_for_names, "Numbers for names")
                .on_hover_text("On the screen, in the table and on the feedback sheets");
            if numbers.changed() {
                self.put_names();
            }
            match &self.writing {
                Some(writing) => {
                    ui.label(writing.words());
                    if ui.button("Stop").clicked() {
                        writing.cancel();
                    }
                }
                None => self.show_message(ui),
            }
        });
        ui.add_space(4.0 * text_scale(ui));
        asked
    }

    /// Which film of a practice set is shown.
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

impl PageView for ClassPage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        let asked = if self.choosing || self.shown.is_none() || self.grading.is_some() {
            self.choosing_page(ui, session)
        } else {
            self.class_page(ui, session)
        };
        match asked {
            Some(Asked::Files(wanted)) => self.ask_for_files(&ctx, wanted, session),
            Some(Asked::Grade) => self.start_grading(&ctx),
            None => {}
        }
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(Outcome::Chosen { wanted, paths }) => {
                    self.take_chosen(ctx, wanted, paths, session);
                }
                JobEnd::Done(Outcome::Graded(graded)) => {
                    self.grading = None;
                    match *graded {
                        Ok(graded) => self.take_graded(ctx, graded),
                        Err(problem) => session.report_error(problem),
                    }
                }
                JobEnd::Done(Outcome::Pictured { film, of, pictured }) => {
                    self.take_picture(ctx, film, &of, *pictured, session);
                }
                JobEnd::Done(Outcome::Written(written)) => {
                    self.writing = None;
                    match written {
                        Ok(words) => self.message = words,
                        Err(problem) => session.report_error(problem),
                    }
                }
                JobEnd::Lost(name) => {
                    match name {
                        JobName::Grade => self.grading = None,
                        JobName::Record => self.writing = None,
                        _ => {}
                    }
                    session.report_error(format!("{} stopped before its end", name.words()));
                }
            }
        }
    }

    fn carry_out(&mut self, ctx: &Context, command: Command) -> bool {
        let Some(shown) = &mut self.shown else {
            return false;
        };
        let picture = shown.picture.as_mut();
        match (command, picture) {
            (Command::NextCanal, _) => shown.list.move_selection(1),
            (Command::PreviousCanal, _) => shown.list.move_selection(-1),
            (Command::Cancel, _) if shown.list.selected.is_some() => shown.list.selected = None,
            (Command::Fit, Some(picture)) => picture.fit(),
            (Command::ZoomIn, Some(picture)) => picture.zoom(ZOOM_STEP),
            (Command::ZoomOut, Some(picture)) => picture.zoom(1.0 / ZOOM_STEP),
            (Command::Invert, Some(picture)) => picture.invert(),
            _ => return false,
        }
        ctx.request_repaint();
        true
    }

    fn take_files(&mut self, paths: &[PathBuf]) -> bool {
        self.add_files(paths.to_vec());
        true
    }

    fn is_busy(&self) -> bool {
        [JobName::Grade, JobName::Open, JobName::Record]
            .into_iter()
            .any(|name| self.jobs.is_running(name))
    }
}

/// A part of the page.
fn part(ui: &mut Ui, name: &str, rect: egui::Rect, show: impl FnOnce(&mut Ui)) {
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(rect), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}
