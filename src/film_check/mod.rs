//! What a film can be used for: its noise, blur, clipping and unexposed parts,
//! said in one line each.

mod blur;
mod grid;
mod noise;
mod sketch;
mod words;

pub use blur::edge_blur_px;
pub use grid::Grid;
pub use noise::{FilmNoise, edge_uncertainty_px, film_noise, immerkaer, ridge_uncertainty_px};
pub use sketch::FilmSketch;
pub use words::{FilmRemark, film_remarks};
