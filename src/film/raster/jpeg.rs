//! JPEG: the header scan, and the decoders both picture files and DICOM use.

use image::metadata::Orientation;
use jpeg_decoder::PixelFormat;
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::{RasterFile, exif};
use crate::film::fault::FilmFault;
use crate::film::grey::{Channels, Picture};
use crate::film::limits::OpenLimits;
use crate::film::scale_facts::ResolutionTag;

const FORMAT: &str = "JPEG";

/// What the markers before the first scan say (ITU-T T.81 B.2).
#[derive(Clone, Debug)]
pub(crate) struct JpegHeader<'a> {
    pub width_px: u16,
    pub height_px: u16,
    /// Sample precision P.
    pub bits: u8,
    pub components: u8,
    /// The start-of-frame marker, `0xC0`–`0xCF` or `0xF7` for JPEG-LS.
    pub frame_marker: u8,
    /// An Adobe segment states the colour transform.
    pub adobe: bool,
    /// EXIF block without its identifier.
    pub exif: Option<&'a [u8]>,
    /// JFIF density: unit (1 inch, 2 cm), horizontal, vertical.
    pub density: Option<(u8, u16, u16)>,
}

/// Lossless process with Huffman coding.
pub(crate) const SOF3_LOSSLESS: u8 = 0xC3;
/// JPEG-LS (ITU-T T.87).
pub(crate) const SOF55_JPEG_LS: u8 = 0xF7;

/// Reads the markers up to the first scan.
pub(crate) fn read_header(bytes: &[u8]) -> Result<JpegHeader<'_>, FilmFault> {
    let cut = || FilmFault::damaged(FORMAT, "it ends within its header");
    let mut header = JpegHeader {
        width_px: 0,
        height_px: 0,
        bits: 0,
        components: 0,
        frame_marker: 0,
        adobe: false,
        exif: None,
        density: None,
    };
    if !bytes.starts_with(&[0xFF, 0xD8]) {
        return Err(FilmFault::damaged(FORMAT, "it does not start with SOI"));
    }
    let mut at = 2;
    loop {
        // Any number of fill bytes may stand before a marker.
        while bytes.get(at) == Some(&0xFF) && bytes.get(at + 1) == Some(&0xFF) {
            at += 1;
        }
        let [0xFF, marker] = *bytes.get(at..at + 2).ok_or_else(cut)? else {
            return Err(FilmFault::damaged(FORMAT, "a marker is missing"));
        };
        at += 2;
        if matches!(marker, 0x01 | 0xD0..=0xD8) {
            continue;
        }
        let length = bytes.get(at..at + 2).ok_or_else(cut)?;
        let length = usize::from(u16::from_be_bytes([length[0], length[1]]));
        let segment = bytes.get(at + 2..at + length).ok_or_else(cut)?;
        match marker {
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF | SOF55_JPEG_LS => {
                let &[bits, h1, h0, w1, w0, components, ..] = segment else {
                    return Err(cut());
                };
                header.bits = bits;
                header.height_px = u16::from_be_bytes([h1, h0]);
                header.width_px = u16::from_be_bytes([w1, w0]);
                header.components = components;
                header.frame_marker = marker;
            }
            0xE0 => {
                if let [b'J', b'F', b'I', b'F', 0, _, _, unit, x1, x0, y1, y0, ..] = segment {
                    let x = u16::from_be_bytes([*x1, *x0]);
                    let y = u16::from_be_bytes([*y1, *y0]);
                    header.density = Some((*unit, x, y));
                }
            }
            0xE1 => {
                if let Some(block) = segment.strip_prefix(b"Exif\0\0") {
                    header.exif = Some(block);
                }
            }
            0xEE => header.adobe |= segment.starts_with(b"Adobe"),
            0xDA => break,
            0xD9 => return Err(FilmFault::damaged(FORMAT, "it has no scan")),
            _ => {}
        }
        at += length;
    }
    if header.frame_marker == 0 {
        return Err(FilmFault::damaged(FORMAT, "it has no frame header"));
    }
    Ok(header)
}

/// Decodes a JPEG file.
pub(crate) fn decode(bytes: &[u8], limits: &OpenLimits) -> Result<RasterFile, FilmFault> {
    let header = read_header(bytes)?;
    let picture = decode_frame(bytes, &header, true, limits)?;
    let (orientation, exif_resolution) = match header.exif {
        Some(block) => exif::read(block),
        None => (Orientation::NoTransforms, None),
    };
    let jfif = header.density.and_then(|(unit, x, y)| {
        // JFIF 1.02: 1 = per inch, 2 = per cm; TIFF numbers them 2 and 3.
        ResolutionTag::from_tiff_unit("JFIF density", x.into(), y.into(), u32::from(unit) + 1)
    });
    Ok(RasterFile {
        photometric: format!("{:?}, {} bit", picture.channels, header.bits),
        picture,
        orientation,
        resolution: jfif.into_iter().chain(exif_resolution).collect(),
        more_pages: false,
    })
}

/// Decodes one JPEG frame (not JPEG-LS). Without `convert_color`, three
/// components without an Adobe segment are taken as they stand.
pub(crate) fn decode_frame(
    bytes: &[u8],
    header: &JpegHeader,
    convert_color: bool,
    limits: &OpenLimits,
) -> Result<Picture, FilmFault> {
    let most_bytes = limits.check_size(header.width_px.into(), header.height_px.into())?;
    // Each block of 8 × 8 takes a bit at the least (T.81 F.1.2, G.1.2).
    let blocks = u64::from(header.width_px) * u64::from(header.height_px) / 64;
    if (bytes.len() as u64).saturating_mul(8) < blocks {
        return Err(FilmFault::damaged(
            FORMAT,
            "it holds less than its size needs",
        ));
    }
    match (header.frame_marker, header.bits) {
        (0xC0..=0xC2, 8) => decode_dct(bytes, header, convert_color),
        (SOF3_LOSSLESS, 2..=16) => decode_lossless(bytes, header, most_bytes as usize),
        (0xC1 | 0xC2, 12) => Err(FilmFault::not_supported(
            "lossy JPEG of 12 bits",
            "convert the film to an uncompressed or lossless form",
        )),
        (marker, bits) => Err(FilmFault::not_supported(
            format!("JPEG of process 0x{marker:02X} with {bits} bits"),
            "convert the film to an uncompressed or lossless form",
        )),
    }
}

fn decode_dct(
    bytes: &[u8],
    header: &JpegHeader,
    convert_color: bool,
) -> Result<Picture, FilmFault> {
    let (channels, colorspace) = match header.components {
        1 => (Channels::Grey, ColorSpace::Luma),
        3 if !convert_color && !header.adobe => (Channels::Rgb, ColorSpace::YCbCr),
        _ => (Channels::Rgb, ColorSpace::RGB),
    };
    let options = DecoderOptions::default()
        .set_max_width(u16::MAX.into())
        .set_max_height(u16::MAX.into())
        .set_strict_mode(true)
        .jpeg_set_out_colorspace(colorspace);
    let samples = JpegDecoder::new_with_options(ZCursor::new(bytes), options)
        .decode()
        .map_err(|e| FilmFault::damaged(FORMAT, e))?;
    Ok(Picture {
        width_px: header.width_px.into(),
        height_px: header.height_px.into(),
        bits: 8,
        channels,
        samples: samples.into_iter().map(u16::from).collect(),
    })
}

fn decode_lossless(
    bytes: &[u8],
    header: &JpegHeader,
    most_bytes: usize,
) -> Result<Picture, FilmFault> {
    let damaged = |e| FilmFault::damaged("JPEG lossless", e);
    let mut decoder = jpeg_decoder::Decoder::new(bytes);
    decoder.set_max_decoding_buffer_size(most_bytes);
    // Lossless JPEG holds its components untransformed.
    decoder.set_color_transform(jpeg_decoder::ColorTransform::None);
    let data = decoder.decode().map_err(damaged)?;
    let format = decoder.info().map(|info| info.pixel_format);
    let (channels, samples) = match format {
        Some(PixelFormat::L8) => (Channels::Grey, data.into_iter().map(u16::from).collect()),
        Some(PixelFormat::L16) => (
            Channels::Grey,
            (data.chunks_exact(2))
                .map(|b| u16::from_ne_bytes([b[0], b[1]]))
                .collect(),
        ),
        Some(PixelFormat::RGB24) => (Channels::Rgb, data.into_iter().map(u16::from).collect()),
        _ => {
            return Err(FilmFault::not_supported(
                "lossless JPEG of four components",
                "convert the film to an uncompressed form",
            ));
        }
    };
    Ok(Picture {
        width_px: header.width_px.into(),
        height_px: header.height_px.into(),
        bits: header.bits,
        channels,
        samples,
    })
}
