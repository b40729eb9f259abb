//! What stands around the film, one panel a file.

mod budget;
mod click_noise;
pub mod curvature;
pub mod dialogs;
pub mod findings;
mod inputs;
pub mod menu;
pub mod profile;
pub mod rail;
mod recent;
pub mod scale;
pub mod status;
pub mod welcome;
