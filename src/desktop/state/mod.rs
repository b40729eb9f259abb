//! What the window knows: the case and its film, what passes, what is kept.
//!
//! Three kinds of state stay apart: the [`document`] (case and history), the
//! [`preferences`] that outlive the window, and the [`session`] that does not.
//! The case changes through [`Document`](document::Document) alone: by an
//! [`Edit`](edit::Edit), or by a drag under way.

pub mod assist;
pub mod clipboard;
pub mod command;
pub mod command_group;
pub mod commands;
pub mod desk;
pub mod document;
pub mod edit;
pub mod file_chooser;
pub mod film_pane;
pub mod film_watch;
pub mod folder_watch;
pub mod gauge;
pub mod jobs;
pub mod keys;
pub mod long_job;
pub mod offers;
pub mod open_film;
pub mod own_click_noise;
pub mod page;
pub mod page_view;
pub mod preferences;
pub mod reading;
pub mod records;
pub mod recovery;
pub mod repeats;
pub mod saving;
pub mod session;
pub mod shortcut;
pub mod typed_early;
pub mod workspace;

pub use desk::Desk;
