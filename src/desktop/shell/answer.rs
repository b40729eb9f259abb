//! What a dialog can be answered with.

use crate::desktop::state::command::Command;
use crate::desktop::state::session::Next;

/// What the user answered.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// Nothing yet.
    Waiting,
    /// The dialog goes, nothing else happens.
    Closed,
    Run(Command),
    Open(String),
    /// Save first, then go on.
    SaveThen(Next),
    /// Go on without saving.
    Proceed(Next),
    Restore,
    DiscardLeftover,
    ReloadFilm,
    /// Keep the file as it is and save under another name.
    SaveBeside,
    /// Replace the file that somebody else has written.
    SaveOver,
    ChooseWatchedFolder,
    RemoveCanal(usize),
}
