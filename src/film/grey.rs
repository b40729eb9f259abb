//! Colour, transparency, packed bits and orientation made one grey raster.

use image::metadata::Orientation;

use super::fault::FilmFault;
use super::{Film, Polarity, max_sample};

/// What the interleaved channels of a decoded picture mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Channels {
    Grey,
    GreyAlpha,
    Rgb,
    Rgba,
}

impl Channels {
    /// Samples per pixel.
    pub(crate) fn count(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::GreyAlpha => 2,
            Self::Rgb => 3,
            Self::Rgba => 4,
        }
    }
}

/// Luma of ITU-R BT.601, in weights of 1/65536 that add up to one, rounded to
/// nearest: equal channels keep their value at every depth.
pub(crate) fn luma(r: u16, g: u16, b: u16) -> u16 {
    let sum = 19595 * u64::from(r) + 38470 * u64::from(g) + 7471 * u64::from(b);
    ((sum + 0x8000) >> 16) as u16
}

/// A decoded picture on its way to a [`Film`].
pub(crate) struct Picture {
    pub width_px: u32,
    pub height_px: u32,
    /// Depth of each channel, 1–16.
    pub bits: u8,
    pub channels: Channels,
    /// Row-major, channels interleaved.
    pub samples: Vec<u16>,
}

impl Picture {
    /// The grey film, upright; the flag tells of pixels that were not opaque.
    pub(crate) fn into_film(
        self,
        format: &'static str,
        orientation: Orientation,
    ) -> Result<(Film, bool), FilmFault> {
        let opaque = max_sample(self.bits);
        let mut transparent = false;
        let mut over_black = |sample: u16, alpha: u16| {
            if alpha == opaque {
                return sample;
            }
            transparent = true;
            let full = u32::from(opaque);
            ((u32::from(sample) * u32::from(alpha) + full / 2) / full) as u16
        };
        let grey: Vec<u16> = match self.channels {
            Channels::Grey => self.samples,
            Channels::GreyAlpha => (self.samples.chunks_exact(2))
                .map(|p| over_black(p[0], p[1]))
                .collect(),
            Channels::Rgb => (self.samples.chunks_exact(3))
                .map(|p| luma(p[0], p[1], p[2]))
                .collect(),
            Channels::Rgba => (self.samples.chunks_exact(4))
                .map(|p| over_black(luma(p[0], p[1], p[2]), p[3]))
                .collect(),
        };
        let (width_px, height_px, samples) =
            upright(self.width_px, self.height_px, grey, orientation);
        Film::from_samples(
            width_px,
            height_px,
            self.bits,
            Polarity::HighIsOpaque,
            samples,
        )
        .map(|film| (film, transparent))
        .ok_or_else(|| FilmFault::damaged(format, "it holds too few pixels for its size"))
    }
}

/// The raster turned and flipped as the EXIF orientation asks.
fn upright(
    width_px: u32,
    height_px: u32,
    samples: Vec<u16>,
    orientation: Orientation,
) -> (u32, u32, Vec<u16>) {
    let (w, h) = (width_px as usize, height_px as usize);
    if orientation == Orientation::NoTransforms || samples.len() != w * h {
        return (width_px, height_px, samples);
    }
    // For each output pixel (x, y) the input column and row it shows.
    let source: fn(usize, usize, usize, usize) -> (usize, usize) = match orientation {
        Orientation::NoTransforms => |x, y, _, _| (x, y),
        Orientation::FlipHorizontal => |x, y, w, _| (w - 1 - x, y),
        Orientation::Rotate180 => |x, y, w, h| (w - 1 - x, h - 1 - y),
        Orientation::FlipVertical => |x, y, _, h| (x, h - 1 - y),
        Orientation::Rotate90FlipH => |x, y, _, _| (y, x),
        Orientation::Rotate90 => |x, y, _, h| (y, h - 1 - x),
        Orientation::Rotate270FlipH => |x, y, w, h| (w - 1 - y, h - 1 - x),
        Orientation::Rotate270 => |x, y, w, _| (w - 1 - y, x),
    };
    let (out_w, out_h) = if swaps_axes(orientation) {
        (h, w)
    } else {
        (w, h)
    };
    let turned = (0..out_h)
        .flat_map(|y| (0..out_w).map(move |x| (x, y)))
        .map(|(x, y)| {
            let (column, row) = source(x, y, w, h);
            samples[row * w + column]
        })
        .collect();
    (out_w as u32, out_h as u32, turned)
}

/// Rows become columns.
pub(crate) fn swaps_axes(orientation: Orientation) -> bool {
    matches!(
        orientation,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    )
}

/// Unpacks rows of `row_samples` big-endian samples of `bits` each, every row
/// starting on a byte; missing bytes give missing samples.
pub(crate) fn unpack_bits(packed: &[u8], row_samples: usize, rows: usize, bits: u8) -> Vec<u16> {
    let bits = usize::from(bits);
    let row_bytes = (row_samples * bits).div_ceil(8);
    let mut samples = Vec::with_capacity(row_samples * rows);
    for row in packed.chunks_exact(row_bytes.max(1)).take(rows) {
        for i in 0..row_samples {
            let sample = (i * bits..(i + 1) * bits).fold(0, |acc, bit| {
                acc << 1 | u16::from(row[bit / 8] >> (7 - bit % 8) & 1)
            });
            samples.push(sample);
        }
    }
    samples
}
