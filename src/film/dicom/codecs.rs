//! JPEG 2000 and JPEG-LS frames. (JPEG proper: `raster::jpeg`.)

use std::borrow::Cow;

use hayro_jpeg2000::{DecodeSettings, DecoderContext, Image};

use crate::film::fault::{FilmFault, contained};
use crate::film::grey::{Channels, Picture};
use crate::film::limits::OpenLimits;
use crate::film::max_sample;
use crate::film::raster::jpeg::{SOF55_JPEG_LS, read_header};

const JPEG_2000: &str = "JPEG 2000";
const JPEG_LS: &str = "JPEG-LS";

/// The image and tile size marker of a JPEG 2000 code stream (ITU-T T.800
/// A.5.1), as far as the decoder does not show it.
pub(super) struct Jpeg2000Frame<'a> {
    /// From the start marker on, without the boxes some files wrap around it.
    code_stream: &'a [u8],
    pub width_px: u32,
    pub height_px: u32,
    components: u16,
    /// Component 0 is signed.
    signed: bool,
}

impl<'a> Jpeg2000Frame<'a> {
    /// Reads the marker; nothing is decoded.
    pub(super) fn read(frame: &'a [u8]) -> Result<Self, FilmFault> {
        /// SOC, then SIZ.
        const START: [u8; 4] = [0xFF, 0x4F, 0xFF, 0x51];
        let header = || {
            let start = frame.windows(START.len()).position(|w| w == START)?;
            let code_stream = &frame[start..];
            let word = |at: usize| {
                let bytes = code_stream.get(at..at + 4)?;
                Some(u32::from_be_bytes(bytes.try_into().ok()?))
            };
            let (right, bottom) = (word(8)?, word(12)?);
            let (left, top) = (word(16)?, word(20)?);
            Some(Self {
                code_stream,
                width_px: right.checked_sub(left)?,
                height_px: bottom.checked_sub(top)?,
                components: (word(40)? >> 16) as u16,
                signed: code_stream.get(42)? & 0x80 != 0,
            })
        };
        header().ok_or_else(|| FilmFault::damaged(JPEG_2000, "its size marker is missing"))
    }

    /// Decodes the frame; the flag tells of signed components, whose samples
    /// come raised by half their range.
    pub(super) fn decode(&self, limits: &OpenLimits) -> Result<(Picture, bool), FilmFault> {
        limits.check_size(self.width_px.into(), self.height_px.into())?;
        let channels = match self.components {
            1 => Channels::Grey,
            3 => Channels::Rgb,
            n => {
                return Err(FilmFault::not_supported(
                    format!("JPEG 2000 of {n} components"),
                    "convert the film to grey",
                ));
            }
        };
        contained(JPEG_2000, || self.decode_channels(channels))
            .map(|picture| (picture, self.signed))
    }

    fn decode_channels(&self, channels: Channels) -> Result<Picture, FilmFault> {
        let damaged = |e: &dyn std::fmt::Display| FilmFault::damaged(JPEG_2000, e);
        let image =
            Image::new(self.code_stream, &DecodeSettings::default()).map_err(|e| damaged(&e))?;
        let bits = image.original_bit_depth();
        if !(1..=16).contains(&bits) {
            return Err(FilmFault::not_supported(
                format!("JPEG 2000 of {bits} bits"),
                "convert the film to 16 bits",
            ));
        }
        let mut context = DecoderContext::default();
        let decoded = image.decode(&mut context).map_err(|e| damaged(&e))?;
        let components = decoded.components();
        let pixels = self.width_px as usize * self.height_px as usize;
        if components.len() != channels.count()
            || components.iter().any(|c| c.samples().len() != pixels)
        {
            return Err(damaged(&"its components differ in size"));
        }
        let most = f32::from(max_sample(bits));
        let sample = |value: f32| value.round().clamp(0.0, most) as u16;
        let samples = match components {
            [grey] => grey.samples().iter().map(|&v| sample(v)).collect(),
            _ => (0..pixels)
                .flat_map(|i| components.iter().map(move |c| sample(c.samples()[i])))
                .collect(),
        };
        Ok(Picture {
            width_px: self.width_px,
            height_px: self.height_px,
            bits,
            channels,
            samples,
        })
    }
}

/// Decodes a grey JPEG-LS stream, lossless or near-lossless.
pub(super) fn decode_jpeg_ls(frame: &[u8], limits: &OpenLimits) -> Result<Picture, FilmFault> {
    let header = read_header(frame)?;
    if header.frame_marker != SOF55_JPEG_LS {
        return Err(FilmFault::damaged(JPEG_LS, "it is another kind of JPEG"));
    }
    let (width_px, height_px) = (u32::from(header.width_px), u32::from(header.height_px));
    limits.check_size(width_px.into(), height_px.into())?;
    if header.components != 1 || !(2..=16).contains(&header.bits) {
        return Err(FilmFault::not_supported(
            format!(
                "JPEG-LS of {} components and {} bits",
                header.components, header.bits
            ),
            "convert the film to an uncompressed form",
        ));
    }
    let frame = without_fill_before_end(frame);
    contained(JPEG_LS, || {
        let (samples, _, _) = jpegls::decode(&frame, width_px, height_px)
            .map_err(|e| FilmFault::damaged(JPEG_LS, e))?;
        Ok(Picture {
            width_px,
            height_px,
            bits: header.bits,
            channels: Channels::Grey,
            samples,
        })
    })
}

/// Takes out the fill bytes that may stand before the end marker (T.81
/// B.1.1.2) and that the decoder does not know; after `FF` the coded bits
/// never hold another `FF`.
fn without_fill_before_end(frame: &[u8]) -> Cow<'_, [u8]> {
    const END: [u8; 2] = [0xFF, 0xD9];
    let Some(end) = frame.windows(2).rposition(|w| w == END) else {
        return Cow::Borrowed(frame);
    };
    let fill = frame[..end]
        .iter()
        .rev()
        .take_while(|&&b| b == 0xFF)
        .count();
    match fill {
        0 => Cow::Borrowed(frame),
        _ => Cow::Owned([&frame[..end - fill], &frame[end..]].concat()),
    }
}
