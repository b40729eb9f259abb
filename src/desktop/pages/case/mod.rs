//! The open case: the film in the middle, and what stands around it, one panel
//! a file.

mod answer;
mod budget;
mod canal_table;
mod chart_note;
mod click_noise;
pub mod commands;
mod curvature;
mod dates;
mod equipment;
pub mod film;
pub mod findings;
mod hand_in;
mod inputs;
mod marks;
mod next_step;
mod profile;
pub mod rail;
pub mod repeats;
mod scale;
pub mod status;
mod tool_button;
mod type_ahead;

pub use type_ahead::take_digits;
