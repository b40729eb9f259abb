//! Film rasters as 8-bit pictures, and pictures as PNG files.

use std::io::Cursor;

use image::{GrayImage, ImageFormat, Pixel, PixelWithColorType};

use crate::film::{Film, Window};

/// Share of the samples that may be clipped at each end of the grey scale.
const CLIPPED: f64 = 0.005;

/// The film at full resolution in 8 bits, contrast fitted to its samples,
/// radio-opaque bright.
pub fn for_viewing(film: &Film) -> GrayImage {
    let window = Window::automatic(film, CLIPPED, 1.0 - CLIPPED).or(Window::full_range(film));
    let pixels = window.map_or_else(
        || vec![0; film.samples().len()],
        |window| window.to_8_bit(film),
    );
    GrayImage::from_raw(film.width_px(), film.height_px(), pixels)
        .expect("one grey value per sample")
}

/// PNG file of an 8-bit image.
pub fn png_bytes<P>(image: &image::ImageBuffer<P, Vec<u8>>) -> Vec<u8>
where
    P: Pixel<Subpixel = u8> + PixelWithColorType,
{
    let mut bytes = Cursor::new(Vec::new());
    image
        .write_to(&mut bytes, ImageFormat::Png)
        .expect("an 8-bit image in memory can be encoded");
    bytes.into_inner()
}
