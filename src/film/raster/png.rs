//! PNG.

use std::io::Cursor;

use image::metadata::Orientation;
use png::{BitDepth, ColorType, Decoder, Limits, Transformations, Unit};

use super::{RasterFile, exif};
use crate::film::fault::FilmFault;
use crate::film::grey::{Channels, Picture, unpack_bits};
use crate::film::limits::OpenLimits;
use crate::film::scale_facts::ResolutionTag;

const FORMAT: &str = "PNG";

fn damaged(error: png::DecodingError) -> FilmFault {
    FilmFault::damaged(FORMAT, error)
}

/// Decodes a PNG at its own depth.
pub(crate) fn decode(bytes: &[u8], limits: &OpenLimits) -> Result<RasterFile, FilmFault> {
    let mut decoder = Decoder::new(Cursor::new(bytes));
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    let header = decoder.read_header_info().map_err(damaged)?;
    let (width_px, height_px) = (header.width, header.height);
    let (stored_color, stored_depth) = (header.color_type, header.bit_depth);
    let most_bytes = limits.check_size(width_px.into(), height_px.into())?;
    decoder.set_limits(Limits {
        bytes: most_bytes as usize,
    });

    // Grey of 1, 2 or 4 bits stays at its depth; everything else is expanded
    // to whole channels by the decoder (palette, colour key to alpha).
    let packed_grey = stored_color == ColorType::Grayscale
        && matches!(stored_depth, BitDepth::One | BitDepth::Two | BitDepth::Four);
    decoder.set_transformations(if packed_grey {
        Transformations::IDENTITY
    } else {
        Transformations::EXPAND
    });
    let mut reader = decoder.read_info().map_err(damaged)?;
    let size = reader
        .output_buffer_size()
        .ok_or_else(|| FilmFault::damaged(FORMAT, "its size overflows"))?;
    let mut buffer = vec![0; size];
    let output = reader.next_frame(&mut buffer).map_err(damaged)?;
    // An EXIF chunk may follow the pixels; what follows them may be damaged.
    let _ = reader.finish();

    let channels = match output.color_type {
        ColorType::Grayscale => Channels::Grey,
        ColorType::GrayscaleAlpha => Channels::GreyAlpha,
        ColorType::Rgb => Channels::Rgb,
        ColorType::Rgba => Channels::Rgba,
        ColorType::Indexed => {
            return Err(FilmFault::damaged(FORMAT, "its palette cannot be expanded"));
        }
    };
    let bits = output.bit_depth as u8;
    let samples = match bits {
        16 => (buffer.chunks_exact(2))
            .map(|b| u16::from_be_bytes([b[0], b[1]]))
            .collect(),
        8 => buffer.into_iter().map(u16::from).collect(),
        _ => unpack_bits(&buffer, width_px as usize, height_px as usize, bits),
    };

    let info = reader.info();
    let (orientation, exif_resolution) = match &info.exif_metadata {
        Some(block) => exif::read(block),
        None => (Orientation::NoTransforms, None),
    };
    let physical = info
        .pixel_dims
        .filter(|dims| dims.unit == Unit::Meter)
        .and_then(|dims| {
            ResolutionTag::from_per_metre("PNG pHYs", f64::from(dims.xppu), f64::from(dims.yppu))
        });
    Ok(RasterFile {
        picture: Picture {
            width_px,
            height_px,
            bits,
            channels,
            samples,
        },
        photometric: format!("{stored_color:?}, {} bit", stored_depth as u8),
        orientation,
        resolution: physical.into_iter().chain(exif_resolution).collect(),
        more_pages: info.animation_control.is_some_and(|a| a.num_frames > 1),
    })
}
