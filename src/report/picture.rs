//! Film rasters as 8-bit pictures, and pictures as PNG files.

use std::io::Cursor;

use image::{GrayImage, ImageFormat, Luma, Pixel, PixelWithColorType};

use crate::film::{Film, Polarity};

/// The film at full resolution, its full range of samples spread over 8 bits,
/// radio-opaque bright.
pub fn full_range(film: &Film) -> GrayImage {
    let samples = film.samples();
    let low = samples.iter().copied().min().unwrap_or(0);
    let high = samples.iter().copied().max().unwrap_or(0);
    let span = u32::from(high - low).max(1);
    let grey = |sample: u16| {
        let bright = (u32::from(sample - low) * 255 / span) as u8;
        match film.polarity() {
            Polarity::HighIsOpaque => bright,
            Polarity::LowIsOpaque => 255 - bright,
        }
    };
    GrayImage::from_fn(film.width_px(), film.height_px(), |x, y| {
        let index = y as usize * film.width_px() as usize + x as usize;
        Luma([grey(samples[index])])
    })
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
