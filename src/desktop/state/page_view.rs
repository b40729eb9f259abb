//! What the shell asks of a page.

use std::path::PathBuf;

use egui::{Context, Ui};

use super::command::Command;
use super::desk::Desk;
use super::session::Session;

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

/// A page that works on the open case; it is shown only while one is open.
pub trait CasePageView {
    /// Shows it below the window's head.
    fn show(&mut self, ui: &mut Ui, desk: &mut Desk<'_>);

    /// Takes what its jobs have brought.
    fn poll(&mut self, _ctx: &Context, _session: &mut Session) {}

    /// A job is under way (asking for a file is none).
    fn is_busy(&self) -> bool {
        false
    }
}
