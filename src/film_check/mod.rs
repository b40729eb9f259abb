//! What a film can be used for: its noise, blur, clipping and unexposed parts,
//! said in one line each.

mod blur;
mod noise;
mod sketch;
mod words;

pub use blur::edge_blur_px;
pub use noise::{FilmNoise, edge_uncertainty_px, film_noise, immerkaer, ridge_uncertainty_px};
pub use sketch::{FilmSketch, Grid};
pub use words::{FilmRemark, film_remarks};
