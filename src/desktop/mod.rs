//! The window: a length film checked in a few clicks.
//!
//! Three kinds of state stay apart: the [`document`] (case and history), the
//! [`preferences`] that outlive the window, and the [`session`] that does
//! not. Views read them and send [`command`]s; slow work runs as [`jobs`].

mod app;
mod assist;
mod chart_note;
mod class;
mod command;
mod document;
mod engine;
mod film_view;
mod film_watch;
mod frame_log;
mod icons;
mod jobs;
mod own_click_noise;
mod palette;
mod panels;
mod passphrase;
mod practice_page;
mod preferences;
mod records;
mod recovery;
mod repeats;
mod running;
mod session;
mod widgets;
mod window;
mod wording;
mod workspace;

pub use app::{DesktopApp, Setup};
pub use class::ClassRecord;
pub use preferences::Preferences;
pub use records::RecordKind;
pub use window::{DesktopError, StartWith, run};
