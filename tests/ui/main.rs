//! Drives the real application without a window or graphics card: input goes
//! in as events, what comes out is read from the accessibility tree, the case
//! and the clipboard.

mod archive;
mod assessment;
mod assist;
mod before_after;
mod begin;
#[allow(dead_code, reason = "shared with other tests")]
#[path = "../support/block_hand_ins.rs"]
mod block_hand_ins;
#[allow(dead_code, reason = "shared with other tests")]
#[path = "../support/block_pairs.rs"]
mod block_pairs;
mod blocks;
mod canals;
mod class;
mod desk;
mod escape;
mod exercise_blocks;
mod fields;
mod file_chooser;
mod files;
mod film_marks;
mod flatten;
mod handles;
mod instrument;
mod keyboard;
mod length_film;
mod marking;
mod offers;
mod other_scales;
mod practice;
mod real_window;
mod records;
mod screen;
mod two_films;
mod uncertainty;
