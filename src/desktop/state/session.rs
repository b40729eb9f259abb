//! Passing state: what is in hand, what is said, what is asked. Gone when the
//! window closes.

use std::path::PathBuf;

use egui::{Context, Pos2, Vec2};

use super::assist::{LastSuggestion, Request};
use super::clipboard::ToCopy;
use super::file_chooser::{Answer, FileChooser, FolderView, Question};
use super::long_job::LongJob;
use super::page::Page;
use super::recovery::Leftover;
use super::repeats::{RepeatedPlace, Repeats};
use crate::case::edit::{Handle, Placed, Tool};
use crate::curvature::Method;

/// State of the moment.
#[derive(Default)]
pub struct Session {
    /// What fills the window.
    pub page: Page,
    /// What a click on the film means.
    pub tool: Tool,
    /// Canal the tools and the findings speak of.
    pub canal: usize,
    /// Handle last taken hold of.
    pub selected: Option<Handle>,
    /// What the pointer is doing on the film.
    pub grip: Grip,
    /// Handle that keyboard focus should go to.
    pub focus_handle: Option<Handle>,
    /// Digits typed over the film, for the set length.
    pub typed_ahead: String,
    /// Keys steer the film under the cross: then the cross is shown and places.
    pub steers_by_keys: bool,
    /// Time and place of the last press on the film, to tell a double click.
    pub last_press: Option<(f64, Pos2)>,
    /// All marks are hidden in this frame.
    pub hides_marks: bool,
    /// The button that hides them is held.
    pub hides_by_button: bool,
    /// Cases shown so far.
    pub case_count: usize,
    /// Curvature method whose construction is drawn.
    pub construction: Option<Method>,
    /// Scale object whose known length should be typed now.
    pub focus_length_of: Option<usize>,
    /// Place on the active canal that film and graph both show, mm from the
    /// apex.
    pub marked_from_apex_mm: Option<f64>,
    /// Result whose budget is spelled out, by its key; `None`: the first.
    pub budget_of: Option<String>,
    /// Measurement of the person's click noise.
    pub repeats: Option<Repeats>,
    /// What it shall repeat; `None`: what is placed.
    pub repeat_choice: Option<Vec<RepeatedPlace>>,
    /// Clicks of the assisting tool in hand.
    pub assist_clicks: Vec<crate::units::FilmPoint>,
    /// Clicks that ask for a suggestion not yet begun.
    pub assist_request: Option<Request>,
    /// Clicks of a distance or angle measured in passing.
    pub gauge: Vec<crate::units::FilmPoint>,
    /// Name of the canal should be typed now.
    pub focus_canal_name: bool,
    /// Film that has come into the watched folder.
    pub new_film: Option<PathBuf>,
    /// A file being opened.
    pub opening: Option<LongJob>,
    /// The film is to be looked at for what it shows.
    pub wants_look: bool,
    /// That look, under way.
    pub looking: Option<LongJob>,
    /// Suggestion being worked out.
    pub assisting: Option<LongJob>,
    /// Suggestion just put into the case.
    pub suggested: Option<LastSuggestion>,
    /// The next record holds the patient's and the study's identity.
    pub include_identity: bool,
    /// The next record names film and case by their files.
    pub include_file_names: bool,
    /// What is to be put on the clipboard.
    pub to_copy: Option<ToCopy>,
    /// Last thing done, for the status line.
    pub message: String,
    /// That was a record saved, which may be sent on.
    pub has_saved_record: bool,
    /// Errors not yet put away, in plain words.
    pub problems: Vec<String>,
    pub dialog: Option<Dialog>,
    /// A file being asked for.
    pub chooser: Option<FileChooser>,
    /// How folders are shown when the next one is.
    pub folder_view: FolderView,
    /// The user has agreed to lose what is not saved.
    pub quit_agreed: bool,
    /// What to go on to, once unsaved work is settled.
    pub next: Option<Next>,
}

impl Session {
    /// Asks for a file or folder, in place of what was asked for before.
    pub fn ask_for_file(&mut self, ctx: &Context, question: Question) -> Answer {
        let (chooser, answer) = FileChooser::ask(ctx, question, self.folder_view.clone());
        self.chooser = Some(chooser);
        ctx.request_repaint();
        answer
    }

    /// Something in front of the window has the keyboard.
    pub fn has_dialog(&self) -> bool {
        self.dialog.is_some() || self.chooser.is_some()
    }

    /// The ways to begin are shown, and nothing else is asked.
    pub fn begins(&self) -> bool {
        self.dialog == Some(Dialog::Begin) && self.chooser.is_none()
    }

    /// Says what has been done.
    pub fn notify(&mut self, message: impl Into<String>) {
        self.message = message.into();
        self.has_saved_record = false;
    }

    /// Shows an error until it is put away; the same one only once.
    pub fn report_error(&mut self, problem: impl Into<String>) {
        let problem = problem.into();
        if !self.problems.contains(&problem) {
            self.problems.push(problem);
        }
    }

    /// Fresh for another case; messages and dialogs stay.
    pub fn start_case(&mut self, tool: Tool) {
        self.tool = tool;
        self.canal = 0;
        self.selected = None;
        self.grip = Grip::None;
        self.focus_handle = None;
        self.focus_length_of = None;
        self.typed_ahead.clear();
        self.steers_by_keys = false;
        self.last_press = None;
        self.construction = None;
        self.case_count += 1;
        self.marked_from_apex_mm = None;
        self.suggested = None;
        self.repeats = None;
        self.repeat_choice = None;
        self.gauge.clear();
        self.focus_canal_name = false;
        self.include_identity = false;
        self.include_file_names = false;
        self.stop_assisting();
        self.wants_look = false;
        if let Some(looking) = &self.looking {
            looking.cancel();
        }
    }

    /// The measurement of click noise that presses on the film go to.
    pub fn clicking(&mut self) -> Option<&mut Repeats> {
        self.repeats
            .as_mut()
            .filter(|repeats| repeats.is_clicking())
    }

    /// Marks must not be seen.
    pub fn is_blinded(&self) -> bool {
        self.repeats.as_ref().is_some_and(Repeats::is_clicking)
    }

    /// A press on the film is aimed at a place.
    pub fn aims(&self) -> bool {
        self.tool.places() || self.is_blinded()
    }

    /// Draws the next construction, and none after the last.
    pub fn next_construction(&mut self) {
        self.construction = match self.construction {
            None => Some(Method::ALL[0]),
            Some(now) => Method::ALL.into_iter().skip_while(|&one| one != now).nth(1),
        };
    }

    /// Gives up clicks and work of the assistant.
    pub fn stop_assisting(&mut self) {
        self.assist_clicks.clear();
        self.assist_request = None;
        if let Some(running) = &self.assisting {
            running.cancel();
        }
    }
}

/// What the pressed pointer holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Grip {
    #[default]
    None,
    /// A handle, with the pointer this far from its middle.
    Handle { handle: Handle, offset: Vec2 },
    /// A point placed by this very press.
    Placing(Placed),
    /// A press of the measurement of click noise.
    Repeating,
    /// A click of a distance or angle measured in passing.
    Gauging,
    /// Nothing: this press has asked for a suggestion.
    Asking,
    /// A line; it gets a new point once the pointer has moved.
    Line { on: Handle, pressed_at: Pos2 },
    /// The film itself.
    Film,
}

/// A question or a list in front of the window.
#[derive(Clone, Debug, PartialEq)]
pub enum Dialog {
    Commands {
        filter: String,
    },
    Cautions,
    OpenByPath {
        path: String,
    },
    /// Unsaved work stands against this.
    Unsaved {
        then: Next,
    },
    /// A case was left behind by a crash.
    Recover(Box<Leftover>),
    /// The film file is no longer the one shown.
    FilmReplaced {
        path: PathBuf,
    },
    /// Somebody else has written the case file since it was read here.
    CaseChanged {
        path: PathBuf,
        then: Option<Next>,
    },
    /// A canal is about to be removed.
    RemoveCanal {
        canal: usize,
    },
    /// Whether and how a folder is watched.
    WatchFolder,
    /// The ways to begin.
    Begin,
}

/// What to do once unsaved work is settled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Next {
    Open(PathBuf),
    /// A case, and where its film is if it is not where the case says.
    OpenOn {
        case: PathBuf,
        film: PathBuf,
    },
    AskForFile,
    Demo,
    Duplicate,
    Quit,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constructions_go_round_through_none() {
        let mut session = Session::default();
        let mut seen = Vec::new();
        for _ in 0..=Method::ALL.len() {
            session.next_construction();
            seen.push(session.construction);
        }
        assert_eq!(seen.last(), Some(&None));
        assert_eq!(seen.iter().flatten().count(), Method::ALL.len());
    }
}
