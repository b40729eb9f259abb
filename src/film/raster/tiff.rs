//! TIFF.

use std::io::{Cursor, Read, Seek};

use image::metadata::Orientation;
use tiff::decoder::ifd::Value;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

use super::RasterFile;
use crate::film::fault::FilmFault;
use crate::film::grey::{Channels, Picture, unpack_bits};
use crate::film::limits::OpenLimits;
use crate::film::scale_facts::ResolutionTag;

const FORMAT: &str = "TIFF";
const MEND: &str = "save it as an 8- or 16-bit grey TIFF or PNG";

fn fault(error: TiffError) -> FilmFault {
    match error {
        TiffError::UnsupportedError(kind) => {
            FilmFault::not_supported(format!("this kind of TIFF ({kind})"), MEND)
        }
        damage => FilmFault::damaged(FORMAT, damage),
    }
}

/// Decodes the first page of a TIFF at its own depth.
pub(crate) fn decode(bytes: &[u8], limits: &OpenLimits) -> Result<RasterFile, FilmFault> {
    let mut decoder = Decoder::new(Cursor::new(bytes)).map_err(fault)?;
    let (width_px, height_px) = decoder.dimensions().map_err(fault)?;
    let most_bytes = limits.check_size(width_px.into(), height_px.into())? as usize;
    let mut memory = Limits::default();
    memory.decoding_buffer_size = most_bytes;
    memory.intermediate_buffer_size = most_bytes;
    let mut decoder = decoder.with_limits(memory);

    let color = decoder.colortype().map_err(fault)?;
    let bits = color.bit_depth();
    let (channels, stored_channels) = match color {
        ColorType::Gray(_) => (Channels::Grey, 1),
        ColorType::GrayA(_) => (Channels::GreyAlpha, 2),
        ColorType::Multiband { num_samples: 2, .. } => (Channels::GreyAlpha, 2),
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
        .map_err(fault)?
        .is_none_or(|formats| formats.iter().all(|&format| format == 1));
    if !unsigned_integers {
        return Err(FilmFault::not_supported(
            "a TIFF with signed or floating-point samples",
            MEND,
        ));
    }

    let row_samples = width_px as usize * stored_channels;
    let mut samples = read_samples(&mut decoder, row_samples, height_px, bits)?;
    if matches!(color, ColorType::YCbCr(_)) {
        // The first channel of YCbCr is the luma itself.
        samples = samples
            .chunks_exact(stored_channels)
            .map(|p| p[0])
            .collect();
    }

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
    let planes = decoder.image_buffer_layout().map_err(fault)?.planes;
    if planes > 1 {
        return Err(FilmFault::not_supported(
            "a colour TIFF stored plane by plane",
            MEND,
        ));
    }
    match decoder.read_image().map_err(fault)? {
        DecodingResult::U8(bytes) if bits == 8 => Ok(bytes.into_iter().map(u16::from).collect()),
        DecodingResult::U8(bytes) => Ok(unpack_bits(&bytes, row_samples, rows as usize, bits)),
        DecodingResult::U16(samples) if bits == 16 => Ok(samples),
        _ => Err(FilmFault::not_supported(
            format!("a TIFF of {bits} bits per sample"),
            MEND,
        )),
    }
}

fn resolution<R: Read + Seek>(decoder: &mut Decoder<R>) -> Option<ResolutionTag> {
    let mut rational = |tag| match decoder.get_tag(tag) {
        Ok(Value::Rational(n, d)) => Some(f64::from(n) / f64::from(d)),
        _ => None,
    };
    let (x, y) = (rational(Tag::XResolution)?, rational(Tag::YResolution)?);
    let unit = decoder
        .find_tag_unsigned::<u32>(Tag::ResolutionUnit)
        .ok()?
        .unwrap_or(2);
    ResolutionTag::from_tiff_unit("TIFF XResolution/YResolution", x, y, unit)
}
