//! TIFF.

use std::io::{Cursor, Read, Seek};

use image::metadata::Orientation;
use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

use super::RasterFile;
use crate::film::fault::FilmFault;
use crate::film::grey::{Channels, Picture, luma, unpack_bits};
use crate::film::limits::OpenLimits;
use crate::film::scale_facts::ResolutionTag;

const FORMAT: &str = "TIFF";
const MEND: &str = "save it as an 8- or 16-bit grey TIFF or PNG";

fn damaged(error: impl std::fmt::Display) -> FilmFault {
    FilmFault::damaged(FORMAT, error)
}

/// Decodes the first page of a TIFF at its own depth.
pub(crate) fn decode(bytes: &[u8], limits: &OpenLimits) -> Result<RasterFile, FilmFault> {
    let mut memory = Limits::default();
    memory.decoding_buffer_size = limits.max_bytes() as usize;
    memory.intermediate_buffer_size = limits.max_bytes() as usize;
    let mut decoder = Decoder::new(Cursor::new(bytes))
        .map_err(damaged)?
        .with_limits(memory);
    let (width_px, height_px) = decoder.dimensions().map_err(damaged)?;
    limits.check_size(u64::from(width_px), u64::from(height_px))?;

    let color = decoder.colortype().map_err(damaged)?;
    let bits = color.bit_depth();
    let (channels, stored_channels) = match color {
        ColorType::Gray(_) => (Channels::Grey, 1),
        ColorType::GrayA(_) => (Channels::GreyAlpha, 2),
        ColorType::Multiband { num_samples: 2, .. } => (Channels::GreyAlpha, 2),
        ColorType::Palette(_) => (Channels::Grey, 1),
        ColorType::RGB(_) => (Channels::Rgb, 3),
        ColorType::RGBA(_) => (Channels::Rgba, 4),
        ColorType::YCbCr(8) => (Channels::Grey, 3),
        other => {
            return Err(FilmFault::not_supported(
                format!("a TIFF with {other:?} pixels"),
                MEND,
            ));
        }
    };
    if bits > 16 {
        return Err(FilmFault::not_supported(
            format!("a TIFF of {bits} bits per sample"),
            MEND,
        ));
    }
    let unsigned_integers = decoder
        .find_tag_unsigned_vec::<u16>(Tag::SampleFormat)
        .map_err(damaged)?
        .is_none_or(|formats| formats.iter().all(|&format| format == 1));
    if !unsigned_integers {
        return Err(FilmFault::not_supported(
            "a TIFF with signed or floating-point samples",
            MEND,
        ));
    }

    let row_samples = width_px as usize * stored_channels;
    let read = |decoder: &mut Decoder<_>| read_samples(decoder, row_samples, height_px, bits);
    let stored = read(&mut decoder)?;
    let (samples, bits) = match color {
        ColorType::Palette(_) => (palette_grey(&mut decoder, &stored, bits)?, 16),
        // The first channel of YCbCr is the luma itself.
        ColorType::YCbCr(_) => (stored.chunks_exact(3).map(|p| p[0]).collect(), bits),
        _ => (stored, bits),
    };

    let orientation = decoder
        .find_tag_unsigned::<u8>(Tag::Orientation)
        .ok()
        .flatten()
        .and_then(Orientation::from_exif)
        .unwrap_or(Orientation::NoTransforms);
    Ok(RasterFile {
        picture: Picture {
            width_px,
            height_px,
            bits,
            channels,
            samples,
        },
        photometric: format!("{color:?}"),
        orientation,
        resolution: resolution(&mut decoder).into_iter().collect(),
        more_pages: decoder.more_images(),
    })
}

/// The samples of the page, channels interleaved.
fn read_samples<R: Read + Seek>(
    decoder: &mut Decoder<R>,
    row_samples: usize,
    rows: u32,
    bits: u8,
) -> Result<Vec<u16>, FilmFault> {
    let planes = decoder.image_buffer_layout().map_err(damaged)?.planes;
    if planes > 1 {
        return Err(FilmFault::not_supported(
            "a colour TIFF stored plane by plane",
            MEND,
        ));
    }
    match decoder.read_image().map_err(damaged)? {
        DecodingResult::U8(bytes) if bits == 8 => Ok(bytes.into_iter().map(u16::from).collect()),
        DecodingResult::U8(bytes) => Ok(unpack_bits(&bytes, row_samples, rows as usize, bits)),
        DecodingResult::U16(samples) if bits == 16 => Ok(samples),
        _ => Err(FilmFault::not_supported(
            format!("a TIFF of {bits} bits per sample"),
            MEND,
        )),
    }
}

/// Luma of the palette entry of each index, at the palette's 16 bits.
fn palette_grey<R: Read + Seek>(
    decoder: &mut Decoder<R>,
    indices: &[u16],
    bits: u8,
) -> Result<Vec<u16>, FilmFault> {
    let map = decoder.get_tag_u16_vec(Tag::ColorMap).map_err(damaged)?;
    let entries = 1 << bits;
    if map.len() != 3 * entries {
        return Err(damaged("its palette has the wrong size"));
    }
    let grey: Vec<u16> = (0..entries)
        .map(|i| luma(map[i], map[entries + i], map[2 * entries + i]))
        .collect();
    Ok(indices.iter().map(|&i| grey[usize::from(i)]).collect())
}

fn resolution<R: Read + Seek>(decoder: &mut Decoder<R>) -> Option<ResolutionTag> {
    let x = decoder.get_tag_f64(Tag::XResolution).ok()?;
    let y = decoder.get_tag_f64(Tag::YResolution).ok()?;
    let unit = decoder
        .find_tag_unsigned::<u32>(Tag::ResolutionUnit)
        .ok()?
        .unwrap_or(2);
    ResolutionTag::from_tiff_unit("TIFF XResolution/YResolution", x, y, unit)
}
