//! An exercise set made in the window: what it shall be, and the work beside
//! the window. Nothing of its truth ever comes here.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use egui::{Button, Context, RichText, TextEdit, Ui};

use crate::desktop::state::file_chooser::{Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::passphrase::Passphrase;
use crate::desktop::ui::widgets::{field_row, page, stoppable_progress};
use crate::desktop::ui::wording::counted;
use crate::practice::{
    self, Difficulty, LEAST_PASSPHRASE, MOST_FILMS, MadeSet, PracticeError, SetOf, SetRequest,
};

/// Longest time a closing window waits until half a set is taken back.
const PATIENCE: Duration = Duration::from_secs(5);

/// What is typed and chosen.
#[derive(Clone, Debug)]
struct Form {
    count: String,
    of: SetOf,
    /// Empty: drawn by the system.
    seed: String,
    folder: String,
    passphrase: Passphrase,
    again: Passphrase,
}

impl Default for Form {
    fn default() -> Self {
        Self {
            count: "10".to_owned(),
            of: SetOf::Films(Difficulty::Moderate),
            seed: String::new(),
            folder: String::new(),
            passphrase: Passphrase::default(),
            again: Passphrase::default(),
        }
    }
}

impl Form {
    /// The set asked for and the folder for it, or what still has to be typed.
    fn request(&self) -> Result<(SetRequest, PathBuf), String> {
        let count = self.count.trim().parse();
        let count = count.ok().filter(|count| (1..=MOST_FILMS).contains(count));
        let count =
            count.ok_or_else(|| format!("Number: a whole number from 1 to {MOST_FILMS}"))?;
        let seed = match self.seed.trim() {
            "" => rand::random(),
            typed => typed
                .parse()
                .map_err(|_| "Seed: a whole number, or nothing".to_owned())?,
        };
        let folder = self.folder.trim();
        if folder.is_empty() {
            return Err("Choose the folder to write into".to_owned());
        }
        if !practice::is_long_enough(self.passphrase.get()) {
            return Err(format!(
                "The passphrase needs at least {LEAST_PASSPHRASE} characters"
            ));
        }
        if self.passphrase != self.again {
            return Err("Type the same passphrase twice".to_owned());
        }
        let request = SetRequest {
            count,
            of: self.of,
            seed,
        };
        Ok((request, folder.into()))
    }
}

/// What a job brings back.
enum Outcome {
    Folder(Option<PathBuf>),
    Made(Result<MadeSet, PracticeError>),
}

/// The page.
#[derive(Default)]
pub struct ExercisePage {
    form: Form,
    jobs: Jobs<Outcome>,
    running: Option<LongJob>,
    /// The set last made.
    made: Option<MadeSet>,
    message: String,
    /// Sealed truth of the set whose traces the user wants graded.
    to_grade: Option<PathBuf>,
}

impl ExercisePage {
    /// Sealed truth of the set whose traces the user wants graded; told once.
    pub fn take_to_grade(&mut self) -> Option<PathBuf> {
        self.to_grade.take()
    }

    fn take_made(&mut self, made: Result<MadeSet, PracticeError>, session: &mut Session) {
        match made {
            Ok(made) => {
                self.message.clear();
                session.notify(written_words(&made));
                self.made = Some(made);
                // The next set shall not be sealed by mere habit.
                self.form.passphrase.clear();
                self.form.again.clear();
            }
            Err(PracticeError::Stopped) => {
                self.message = "Stopped: no set was made, nothing is left of it".to_owned();
                session.notify(&self.message);
            }
            Err(problem) => session.report_error(problem.to_string()),
        }
    }

    fn start(&mut self, ctx: &Context, request: SetRequest, folder: PathBuf) {
        let doing = match request.of {
            SetOf::Films(_) => "Making film",
            SetOf::Blocks => "Making block",
        };
        let passphrase = self.form.passphrase.clone();
        let started = self
            .jobs
            .start_long(ctx, JobName::Practice, doing, move |progress| {
                let made = practice::make(request, &folder, passphrase.get(), progress);
                Outcome::Made(made)
            });
        if started.is_some() {
            self.running = started;
            self.made = None;
            self.message.clear();
        }
    }

    fn ask_for_folder(&mut self, ctx: &Context, session: &mut Session) {
        let typed = PathBuf::from(self.form.folder.trim());
        let question = Question {
            title: "Choose a folder for the exercise set",
            wanted: Wanted::Folder,
            kinds: &[],
            folder: Some(typed).filter(|folder| folder.is_dir()),
            name: String::new(),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, Outcome::Folder);
    }

    fn fields(&mut self, ui: &mut Ui, session: &mut Session) {
        let form = &mut self.form;
        let quiet = palette::of(ui).quiet_text;
        let hint = |ui: &mut Ui, words: &str| {
            ui.label(RichText::new(words).color(quiet));
        };
        field_row(ui, "Number", |ui| {
            text(ui, &mut form.count, "Number of films or blocks", "10", 60.0);
        });
        field_row(ui, "Exercises", |ui| {
            ui.vertical(|ui| {
                for difficulty in Difficulty::ALL {
                    let words = format!("films, {}: {}", difficulty.name(), difficulty.words());
                    ui.radio_value(&mut form.of, SetOf::Films(difficulty), words);
                }
                let words = "practice blocks: double-curved, each scanned before and after shaping";
                ui.radio_value(&mut form.of, SetOf::Blocks, words);
            });
        });
        field_row(ui, "Seed", |ui| {
            text(ui, &mut form.seed, "Seed of the films", "none", 160.0);
            hint(
                ui,
                "same seed, same films and truth: leave it empty for a set that counts",
            );
        });
        let mut choose = false;
        field_row(ui, "Folder", |ui| {
            text(
                ui,
                &mut form.folder,
                "Folder to write into",
                "path of a folder",
                300.0,
            );
            choose = ui.button("Choose…").clicked();
        });
        field_row(ui, "Passphrase", |ui| {
            form.passphrase.field(ui, "New passphrase");
            hint(ui, "nothing else opens the truth; take four words");
        });
        field_row(ui, "", |ui| form.again.field(ui, "New passphrase again"));
        if choose {
            let ctx = ui.ctx().clone();
            self.ask_for_folder(&ctx, session);
        }
    }

    fn make_button(&mut self, ui: &mut Ui) {
        let request = self.form.request();
        let button = Button::new(RichText::new("Make the set").strong());
        let button = button.min_size(egui::vec2(160.0, 32.0));
        let quiet = palette::of(ui).quiet_text;
        let pressed = ui
            .horizontal_wrapped(|ui| {
                let pressed = ui.add_enabled(request.is_ok(), button).clicked();
                let words = match &request {
                    // After a set was made the empty passphrase is no fault.
                    Err(_) if self.made.is_some() => "",
                    Err(lacks) => lacks,
                    Ok(_) => &self.message,
                };
                ui.label(RichText::new(words).color(quiet));
                pressed
            })
            .inner;
        if let (true, Ok((request, folder))) = (pressed, request) {
            let ctx = ui.ctx().clone();
            self.start(&ctx, request, folder);
        }
    }
}

impl PageView for ExercisePage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        if ui.button("Back to the case").clicked() {
            session.page = Page::Case;
        }
        let mut grade = None;
        let purpose = "Synthetic films, or blocks before and after shaping, to train on. Their truth is known to the last digit, and sealed until you grade.";
        page(ui, "Make an exercise set", purpose, |ui| {
            ui.add_space(14.0);
            ui.add_enabled_ui(self.running.is_none(), |ui| {
                self.fields(ui, session);
            });
            ui.add_space(14.0);
            match &self.running {
                Some(running) => {
                    if stoppable_progress(ui, running.progress(), &running.words()) {
                        running.cancel();
                    }
                }
                None => self.make_button(ui),
            }
            if let Some(made) = &self.made {
                grade = show_made(ui, made);
            }
        });
        if grade.is_some() {
            self.to_grade = grade;
        }
    }

    fn poll(&mut self, _ctx: &Context, session: &mut Session) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(Outcome::Folder(folder)) => {
                    if let Some(folder) = folder {
                        self.form.folder = folder.to_string_lossy().into_owned();
                    }
                }
                JobEnd::Done(Outcome::Made(made)) => {
                    self.running = None;
                    self.take_made(made, session);
                }
                JobEnd::Lost(name) => {
                    if name == JobName::Practice {
                        self.running = None;
                    }
                    session.report_error(format!("{} stopped before its end", name.words()));
                }
            }
        }
    }

    fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Practice)
    }

    fn progress_words(&self) -> Option<String> {
        self.running.as_ref().map(LongJob::words)
    }

    fn close(&mut self) {
        if let Some(running) = &self.running {
            running.cancel();
        }
        let begun = Instant::now();
        while self.is_busy() && begun.elapsed() < PATIENCE {
            self.jobs.poll();
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

fn text(ui: &mut Ui, typed: &mut String, name: &str, hint: &str, width: f32) {
    let field = TextEdit::singleline(typed)
        .hint_text(hint)
        .desired_width(width);
    ui.add(field).accessible_name(name);
}

/// What was written, in one line.
fn written_words(made: &MadeSet) -> String {
    let folder = practice::films_folder(&made.sealed);
    let exercises = match made.of {
        SetOf::Films(_) => counted(made.films.len(), "film"),
        SetOf::Blocks => format!(
            "{} before and after",
            counted(made.films.len() / 2, "block")
        ),
    };
    format!(
        "Exercise set made: {exercises}, a case to start from beside each, and the sealed truth, in {}",
        folder.display()
    )
}

/// What was written, and what to do with it. The sealed truth, when it shall
/// be graded against.
fn show_made(ui: &mut Ui, made: &MadeSet) -> Option<PathBuf> {
    ui.add_space(14.0);
    ui.label(written_words(made));
    let quiet = palette::of(ui).quiet_text;
    for files in [
        &made.films[..],
        &made.cases,
        std::slice::from_ref(&made.sealed),
    ] {
        ui.label(RichText::new(first_to_last(files)).monospace());
    }
    let advice = "Hand out films and cases; keep truth.sealed and the passphrase. Students open a case, trace (on blocks: marks, canal and walls of both pictures), and save it under their name.";
    ui.label(RichText::new(advice).color(quiet));
    let grade = ui.button("Grade traces of this set…").clicked();
    grade.then(|| made.sealed.clone())
}

fn first_to_last(files: &[PathBuf]) -> String {
    let name = |path: &PathBuf| {
        let name = path.file_name().unwrap_or(path.as_os_str());
        name.to_string_lossy().into_owned()
    };
    match files {
        [] => String::new(),
        [one] => name(one),
        [first, .., last] => format!("{} to {}", name(first), name(last)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_says_what_is_still_missing() {
        let mut form = Form::default();
        let mut lacks = |change: &dyn Fn(&mut Form)| {
            change(&mut form);
            form.request().map(|(request, _)| request)
        };
        for count in ["0", "501", "ten", "2.5", ""] {
            let said = lacks(&|form| form.count = count.to_owned());
            assert!(
                said.unwrap_err().starts_with("Number: a whole number"),
                "{count}"
            );
        }
        let said = lacks(&|form| form.count = " 500 ".to_owned());
        assert!(said.unwrap_err().contains("folder"));
        let said = lacks(&|form| form.seed = "-1".to_owned());
        assert!(said.unwrap_err().starts_with("Seed"));
        lacks(&|form| form.seed = "18446744073709551615".to_owned()).unwrap_err();
        let said = lacks(&|form| form.folder = "set".to_owned());
        assert!(said.unwrap_err().contains("at least 8 characters"));
    }
}
