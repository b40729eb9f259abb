//! Ordinary picture formats.

pub(crate) mod bmp;
mod exif;
pub(crate) mod jpeg;
pub(crate) mod png;
pub(crate) mod tiff;

use image::metadata::Orientation;

use super::grey::{Picture, swaps_axes};
use super::scale_facts::ResolutionTag;

/// A picture and what its file says about it.
pub(crate) struct RasterFile {
    pub picture: Picture,
    /// Colour model and depth in words.
    pub photometric: String,
    pub orientation: Orientation,
    /// As stored, before orientation.
    pub resolution: Vec<ResolutionTag>,
    /// Further pages or frames, which are not read.
    pub more_pages: bool,
}

impl RasterFile {
    /// Resolution tags for the raster after orientation.
    pub(crate) fn upright_resolution(&self) -> Vec<ResolutionTag> {
        let mut tags = self.resolution.clone();
        if swaps_axes(self.orientation) {
            for tag in &mut tags {
                tag.pitch_mm.reverse();
            }
        }
        tags
    }
}
