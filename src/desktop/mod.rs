//! The window: a length film checked in a few clicks.
//!
//! Four floors, and each uses only those below it, which a test holds:
//! [`view`] (pictures of a film) and [`ui`] (colours, words, small widgets);
//! [`state`] (the case, what passes, what is kept); [`pages`]; [`shell`]
//! (window, frame, commands, dialogs, files).
//!
//! Pages read the state and send commands and edits; slow work runs as jobs.

mod pages;
mod shell;
mod state;
mod ui;
mod view;

pub use pages::class::ClassRecord;
pub use shell::{DesktopApp, DesktopError, Setup, StartWith, run};
pub use state::clipboard::Clipboard;
pub use state::preferences::Preferences;
pub use state::records::RecordKind;
