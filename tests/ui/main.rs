//! Drives the real application without a window or graphics card: input goes
//! in as events, what comes out is read from the accessibility tree, the case
//! and the clipboard.

mod assessment;
mod assist;
mod begin;
mod canals;
mod class;
mod desk;
mod escape;
mod fields;
mod file_chooser;
mod files;
mod film_marks;
mod handles;
mod keyboard;
mod length_film;
mod offers;
mod practice;
mod real_window;
mod records;
mod screen;
mod uncertainty;
