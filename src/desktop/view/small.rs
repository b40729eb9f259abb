//! A film as one picture of limited size.

use egui::{Color32, ColorImage};

use super::{Pyramid, Tone};
use crate::film::Film;

/// The film under automatic contrast, halved until its longest side has at most
/// `longest_px`.
pub fn small_picture(film: &Film, pyramid: &Pyramid, longest_px: u32) -> ColorImage {
    let levels = pyramid.levels();
    let fits = |width: u32, height: u32| width.max(height) <= longest_px;
    let level = levels.iter().find(|level| fits(level.width, level.height));
    let level = level.unwrap_or(&levels[levels.len() - 1]);
    let lookup = Tone::automatic(film).lookup(film);
    let grey =
        |&sample: &u16| Color32::from_gray(lookup[usize::from(sample).min(lookup.len() - 1)]);
    let size = [level.width as usize, level.height as usize];
    ColorImage::new(size, level.samples.iter().map(grey).collect())
}
