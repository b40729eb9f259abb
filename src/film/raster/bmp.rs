//! BMP.

use std::io::Cursor;

use image::codecs::bmp::BmpDecoder;
use image::metadata::Orientation;
use image::{ColorType, ImageDecoder};

use super::RasterFile;
use crate::film::fault::FilmFault;
use crate::film::grey::{Channels, Picture};
use crate::film::limits::OpenLimits;
use crate::film::scale_facts::ResolutionTag;

const FORMAT: &str = "BMP";

/// Decodes a BMP; palettes are expanded.
pub(crate) fn decode(bytes: &[u8], limits: &OpenLimits) -> Result<RasterFile, FilmFault> {
    let decoder = BmpDecoder::new(Cursor::new(bytes)).map_err(|e| FilmFault::damaged(FORMAT, e))?;
    let (width_px, height_px) = decoder.dimensions();
    limits.check_size(u64::from(width_px), u64::from(height_px))?;
    let channels = match decoder.color_type() {
        ColorType::L8 => Channels::Grey,
        ColorType::Rgb8 => Channels::Rgb,
        ColorType::Rgba8 => Channels::Rgba,
        other => {
            return Err(FilmFault::not_supported(
                format!("a BMP with {other:?} pixels"),
                "save it as PNG",
            ));
        }
    };
    let mut buffer = vec![0; decoder.total_bytes() as usize];
    decoder
        .read_image(&mut buffer)
        .map_err(|e| FilmFault::damaged(FORMAT, e))?;
    Ok(RasterFile {
        picture: Picture {
            width_px,
            height_px,
            bits: 8,
            channels,
            samples: buffer.into_iter().map(u16::from).collect(),
        },
        photometric: match bytes.get(28..30) {
            Some(depth) => format!(
                "{channels:?}, {} bit per pixel",
                u16::from_le_bytes([depth[0], depth[1]])
            ),
            None => format!("{channels:?}"),
        },
        orientation: Orientation::NoTransforms,
        resolution: pixels_per_metre(bytes).into_iter().collect(),
        more_pages: false,
    })
}

/// biXPelsPerMeter and biYPelsPerMeter of the information header, which the
/// older 12-byte core header lacks.
fn pixels_per_metre(bytes: &[u8]) -> Option<ResolutionTag> {
    let number = |at: usize| {
        bytes
            .get(at..at + 4)
            .map(|b| i32::from_le_bytes([b[0], b[1], b[2], b[3]]))
    };
    (number(14)? >= 40).then_some(())?;
    ResolutionTag::from_per_metre(
        "BMP pixels per metre",
        number(38)?.into(),
        number(42)?.into(),
    )
}
