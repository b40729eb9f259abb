//! The pages of the window, and what the shell asks of one.

use std::path::PathBuf;

use egui::{Context, Key, Ui};

use super::command::{Command, Entry, Group, ctrl, entry};
use super::session::Session;

/// What fills the window below its head.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Page {
    /// The open case, or the ways to open one.
    #[default]
    Case,
    /// A class of traces, graded.
    Class,
    /// An exercise set to be made.
    Exercises,
}

/// The commands that show the pages, in menu order.
pub const PAGE_ENTRIES: &[Entry] = &[
    entry(
        Command::Show(Page::Class),
        "Grade a class…",
        Group::Class,
        &[ctrl(Key::G)],
    ),
    entry(
        Command::Show(Page::Exercises),
        "Make a practice set…",
        Group::Class,
        &[ctrl(Key::M)],
    ),
];

impl Page {
    /// The window's title while it is shown; `None`: the case names it.
    pub fn title(self) -> Option<&'static str> {
        match self {
            Self::Case => None,
            Self::Class => Some("Class"),
            Self::Exercises => Some("Practice"),
        }
    }
}

/// A page in place of the case.
pub trait PageView {
    /// Shows it below the window's head.
    fn show(&mut self, ui: &mut Ui, session: &mut Session);

    /// Takes what its jobs have brought.
    fn poll(&mut self, ctx: &Context, session: &mut Session);

    /// Carries out a command that is for the page shown; `false`: it means
    /// nothing here.
    fn carry_out(&mut self, _ctx: &Context, _command: Command) -> bool {
        false
    }

    /// Takes files dropped on it; `false`: it takes none.
    fn take_files(&mut self, _paths: &[PathBuf]) -> bool {
        false
    }

    /// A job is under way (asking for a file is none).
    fn is_busy(&self) -> bool {
        false
    }

    /// How far its long job is, in words, for when another page is shown.
    fn progress_words(&self) -> Option<String> {
        None
    }

    /// The window closes.
    fn close(&mut self) {}
}
