//! Drives the real application without a window or graphics card: input goes
//! in as events, what comes out is read from the accessibility tree, the case
//! and the clipboard.

mod assessment;
mod assist;
mod class;
mod desk;
mod files;
mod handles;
mod keyboard;
mod length_film;
mod practice;
mod records;
mod uncertainty;
