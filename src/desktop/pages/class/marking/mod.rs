//! Hand-ins marked by two people who know neither names nor each other's marks,
//! and how well the marks agree; the agreement of any other table beside it
//! (docs/grading.md, docs/agreement.md).

mod files;
mod work;

use std::path::PathBuf;
use std::time::{SystemTime, UNIX_EPOCH};

use egui::{Button, Context, Grid, RichText, Ui};

use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{page, spoken, stoppable_progress};
use crate::desktop::ui::wording::counted;
use crate::grading::double_marking::{DoubleMarked, FOLDERS, MARKS_FILE, Prepared};
use crate::progress::Progress;
use crate::spreadsheet::Dialect;

/// Names of the three tables that are brought together.
const TABLE_NAMES: [&str; 3] = ["the key", "marks of marker 1", "marks of marker 2"];

/// What a file or folder is chosen for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum ChosenFor {
    HandIns,
    Film,
    Folder,
    NewKey,
    /// The key, or the marks of one marker: place in [`TABLE_NAMES`].
    Table(usize),
    /// Both markers' marks by student, to be written.
    Marks,
    Ratings,
}

/// What a job brings back.
enum Outcome {
    Chosen(ChosenFor, Option<PathBuf>),
    Prepared(Result<(Prepared, PathBuf, PathBuf), String>),
    Compared(Box<Result<DoubleMarked, String>>),
    Saved(Result<PathBuf, String>),
    Analysed(Result<(PathBuf, Vec<String>), String>),
}

/// The part of the class page about marking.
#[derive(Default)]
pub struct Marking {
    hand_ins: Option<PathBuf>,
    film: Option<PathBuf>,
    /// Folder for the copies, while the key's place is being asked for.
    folder: Option<PathBuf>,
    prepared: Option<(Prepared, PathBuf, PathBuf)>,
    tables: [Option<PathBuf>; 3],
    compared: Option<DoubleMarked>,
    /// Where the marks side by side have been written.
    saved: Option<PathBuf>,
    ratings: Option<(PathBuf, Vec<String>)>,
    jobs: Jobs<Outcome>,
    /// Preparing, comparing or reading under way.
    running: Option<LongJob>,
    problem: Option<String>,
}

impl Marking {
    /// Shows the steps, and what came of them.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let purpose = "Two people mark the same hand-ins without names, each under codes of \
                       their own. The key stays with you.";
        page(ui, "Double marking", purpose, |ui| {
            let slow = self.running.clone().filter(LongJob::is_slow);
            ui.add_enabled_ui(slow.is_none(), |ui| {
                self.prepare(ui, session);
                self.compare(ui, session);
                self.any_table(ui, session);
            });
            ui.add_space(10.0);
            if let Some(running) = slow
                && stoppable_progress(ui, running.progress(), &running.words())
            {
                running.cancel();
            }
            if let Some(problem) = &self.problem {
                let words = RichText::new(problem).color(palette::of(ui).alarm);
                spoken(&ui.label(words), &format!("Not done: {problem}"));
            }
        });
    }

    fn prepare(&mut self, ui: &mut Ui, session: &mut Session) {
        heading(ui, "1  Prepare");
        let quiet = palette::of(ui).quiet_text;
        let what = format!(
            "Copies of the hand-ins without names go into {} and {}, each with {MARKS_FILE} to \
             be filled in. The key says whose they are: keep it in another folder.",
            FOLDERS[0], FOLDERS[1]
        );
        ui.label(RichText::new(what).color(quiet));
        self.chosen(ui, session, "Folder of hand-ins…", ChosenFor::HandIns);
        self.chosen(
            ui,
            session,
            "Their film, where it is not beside them…",
            ChosenFor::Film,
        );
        let is_ready = self.hand_ins.is_some();
        ui.horizontal_wrapped(|ui| {
            let button = Button::new(RichText::new("Prepare for two markers…").strong());
            if ui.add_enabled(is_ready, button).clicked() {
                self.ask(&ui.ctx().clone(), session, ChosenFor::Folder);
            }
            if !is_ready {
                ui.label(RichText::new("Choose the hand-ins first").color(quiet));
            }
        });
        if let Some((prepared, folder, key)) = &self.prepared {
            let words = format!(
                "{} prepared in {}; the key is {}",
                counted(prepared.hand_ins, "hand-in"),
                folder.display(),
                key.display()
            );
            ui.label(words);
            for reason in &prepared.refused {
                let palette = palette::of(ui);
                ui.label(RichText::new(format!("Left out: {reason}")).color(palette.caution));
            }
        }
    }

    fn compare(&mut self, ui: &mut Ui, session: &mut Session) {
        heading(ui, "2  Compare");
        for (place, words) in ["Marks of marker 1…", "Marks of marker 2…", "The key…"]
            .into_iter()
            .enumerate()
        {
            let table = (place + 1) % 3;
            self.chosen(ui, session, words, ChosenFor::Table(table));
        }
        let Some(found) = &self.compared else {
            let quiet = palette::of(ui).quiet_text;
            let words = "With all three, the marks are put side by side and their agreement told.";
            ui.label(RichText::new(words).color(quiet));
            return;
        };
        ui.add_space(6.0);
        marks(ui, found);
        ui.add_space(6.0);
        match &found.agreement {
            Ok(analysis) => {
                for line in work::lines(analysis) {
                    ui.label(line);
                }
            }
            Err(reason) => {
                ui.label(format!("No agreement: {reason}"));
            }
        }
        ui.add_space(6.0);
        self.chosen(ui, session, "Save the marks (CSV)…", ChosenFor::Marks);
    }

    fn any_table(&mut self, ui: &mut Ui, session: &mut Session) {
        heading(ui, "Agreement of another table");
        let quiet = palette::of(ui).quiet_text;
        let what = "One row per subject, one column per rater, numbers or classes.";
        ui.label(RichText::new(what).color(quiet));
        self.chosen(
            ui,
            session,
            "Choose a table of ratings…",
            ChosenFor::Ratings,
        );
        if let Some((_, lines)) = &self.ratings {
            for line in lines {
                ui.label(line);
            }
        }
    }

    /// A button that asks for a file, and what was chosen.
    fn chosen(&mut self, ui: &mut Ui, session: &mut Session, words: &str, wanted: ChosenFor) {
        ui.horizontal(|ui| {
            if ui.button(words).clicked() {
                self.ask(&ui.ctx().clone(), session, wanted);
            }
            let path = match wanted {
                ChosenFor::HandIns => self.hand_ins.as_ref(),
                ChosenFor::Film => self.film.as_ref(),
                ChosenFor::Table(place) => self.tables[place].as_ref(),
                ChosenFor::Marks => self.saved.as_ref(),
                ChosenFor::Ratings => self.ratings.as_ref().map(|(path, _)| path),
                ChosenFor::Folder | ChosenFor::NewKey => None,
            };
            if let Some(path) = path {
                let text = path.display().to_string();
                ui.add(egui::Label::new(&text).truncate())
                    .on_hover_text(&text);
            }
        });
    }

    fn take_chosen(
        &mut self,
        ctx: &Context,
        session: &mut Session,
        wanted: ChosenFor,
        path: PathBuf,
    ) {
        self.problem = None;
        match wanted {
            ChosenFor::HandIns => self.hand_ins = Some(path),
            ChosenFor::Film => self.film = Some(path),
            ChosenFor::Folder => {
                self.folder = Some(path);
                self.ask(ctx, session, ChosenFor::NewKey);
            }
            ChosenFor::NewKey => self.begin_preparing(ctx, path),
            ChosenFor::Table(place) => {
                self.tables[place] = Some(path);
                (self.compared, self.saved) = (None, None);
                if let [Some(key), Some(first), Some(second)] = self.tables.clone() {
                    let tables = [key, first, second];
                    self.start(ctx, JobName::Open, "Reading the tables", move |progress| {
                        let found = work::compare(&tables, TABLE_NAMES, progress);
                        Outcome::Compared(Box::new(found))
                    });
                }
            }
            ChosenFor::Marks => {
                let dialect = Dialect {
                    semicolons: false,
                    byte_order_mark: true,
                };
                if let Some(found) = &self.compared {
                    let marks = found.table(dialect);
                    self.start(ctx, JobName::Record, "Saving", move |_| {
                        Outcome::Saved(work::save_marks(&marks, path))
                    });
                }
            }
            ChosenFor::Ratings => {
                self.ratings = None;
                self.start(ctx, JobName::Open, "Reading the table", move |progress| {
                    let lines = work::analyse(&path, progress);
                    Outcome::Analysed(lines.map(|lines| (path, lines)))
                });
            }
        }
    }

    fn begin_preparing(&mut self, ctx: &Context, key: PathBuf) {
        let (Some(hand_ins), Some(folder)) = (self.hand_ins.clone(), self.folder.take()) else {
            return;
        };
        let film = self.film.clone();
        // The order of the codes is to be guessed by nobody.
        let now = SystemTime::now().duration_since(UNIX_EPOCH);
        let seed = now.map_or(1, |now| now.as_nanos() as u64);
        self.prepared = None;
        self.start(ctx, JobName::Record, "Copying", move |progress| {
            let film = film.as_deref();
            let prepared = work::prepare(&hand_ins, film, &folder, &key, seed, progress);
            Outcome::Prepared(prepared.map(|prepared| (prepared, folder, key)))
        });
    }

    /// Starts what can be watched and stopped; one at a time.
    fn start(
        &mut self,
        ctx: &Context,
        name: JobName,
        doing: &'static str,
        work: impl FnOnce(&Progress) -> Outcome + Send + 'static,
    ) {
        if self.running.is_none() {
            self.running = self.jobs.start_long(ctx, name, doing, work);
        }
    }

    /// Takes what its jobs have brought.
    pub fn poll(&mut self, ctx: &Context, session: &mut Session) {
        for end in self.jobs.poll() {
            if !matches!(end, JobEnd::Done(Outcome::Chosen(..))) {
                self.running = None;
            }
            match end {
                JobEnd::Done(Outcome::Chosen(_, None)) => {}
                JobEnd::Done(Outcome::Chosen(wanted, Some(path))) => {
                    self.take_chosen(ctx, session, wanted, path);
                }
                JobEnd::Done(Outcome::Prepared(Ok(prepared))) => {
                    // Its marks are compared by this key, most likely.
                    self.tables = [Some(prepared.2.clone()), None, None];
                    self.compared = None;
                    self.prepared = Some(prepared);
                }
                JobEnd::Done(Outcome::Saved(Ok(path))) => self.saved = Some(path),
                JobEnd::Done(Outcome::Compared(found)) => match *found {
                    Ok(found) => self.compared = Some(found),
                    Err(problem) => self.problem = Some(problem),
                },
                JobEnd::Done(Outcome::Analysed(Ok(found))) => self.ratings = Some(found),
                JobEnd::Done(
                    Outcome::Prepared(Err(problem))
                    | Outcome::Saved(Err(problem))
                    | Outcome::Analysed(Err(problem)),
                ) => self.problem = Some(problem),
                JobEnd::Lost(name) => {
                    session.report_error(format!("{} stopped before its end", name.words()));
                }
            }
        }
    }

    /// The window closes.
    pub fn close(&self) {
        if let Some(running) = &self.running {
            running.cancel();
        }
    }

    /// A job is under way.
    pub fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Open) || self.jobs.is_running(JobName::Record)
    }
}

fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(14.0);
    ui.label(RichText::new(text).heading().strong());
}

/// Both marks of every hand-in.
fn marks(ui: &mut Ui, found: &DoubleMarked) {
    let palette = palette::of(ui);
    Grid::new("double marks")
        .num_columns(4)
        .spacing([18.0, 2.0])
        .striped(true)
        .show(ui, |ui| {
            for head in ["Student", "Marker 1", "Marker 2"] {
                ui.label(RichText::new(head).color(palette.quiet_text));
            }
            ui.end_row();
            for one in &found.hand_ins {
                ui.label(&one.student).on_hover_text(&one.file);
                for (marker, mark) in one.marks.iter().enumerate() {
                    let mark = mark.as_deref().unwrap_or("not marked");
                    let words = format!("{}, marker {}: {mark}", one.student, marker + 1);
                    spoken(&ui.label(mark), &words);
                }
                if one.differs() {
                    let label = ui.label(RichText::new("differ").color(palette.caution));
                    spoken(&label, &format!("{}: the marks differ", one.student));
                }
                ui.end_row();
            }
        });
}
