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

/// Most tiles of a film: the decoder takes memory for each, however small.
const MOST_TILES: u64 = 4096;

/// Tiles of size `tile` from `origin` to `end`; `None` for a size that is none.
fn tiles_along(end: u32, origin: u32, tile: u32) -> Option<u64> {
    let covered = end.checked_sub(origin)?;
    (tile > 0).then(|| u64::from(covered.div_ceil(tile)))
}

/// Walks from tile-part to tile-part (ITU-T T.800 A.4.2) and makes sure that
/// each is there to its end and that no tile is missing: the decoder itself
/// fills what was cut off with grey.
fn check_complete(code_stream: &[u8], tiles: u64) -> Result<(), FilmFault> {
    const TILE_PART: u16 = 0xFF90;
    const END: u16 = 0xFFD9;
    let cut = || FilmFault::damaged(JPEG_2000, "it is cut off");
    let word = |at: usize| {
        let bytes = code_stream.get(at..at + 2).ok_or_else(cut)?;
        Ok::<u16, FilmFault>(u16::from_be_bytes([bytes[0], bytes[1]]))
    };
    // The main header: segments with their lengths, after the start marker.
    let mut at = 2;
    while word(at)? != TILE_PART {
        at += 2 + usize::from(word(at + 2)?).max(2);
    }
    let mut seen = vec![false; tiles as usize];
    while at < code_stream.len() && word(at)? == TILE_PART {
        let tile = usize::from(word(at + 4)?);
        let length = usize::from(word(at + 6)?) << 16 | usize::from(word(at + 8)?);
        match seen.get_mut(tile) {
            Some(seen) => *seen = true,
            None => {
                return Err(FilmFault::damaged(
                    JPEG_2000,
                    "a tile lies outside the film",
                ));
            }
        }
        // Zero: on to the end marker, which then must be there.
        let end = if length == 0 {
            let end = code_stream.windows(2).rposition(|w| w == END.to_be_bytes());
            end.filter(|&end| end > at).ok_or_else(cut)?
        } else {
            at.saturating_add(length.max(12))
        };
        if end > code_stream.len() {
            return Err(cut());
        }
        at = end;
    }
    if seen.contains(&false) {
        return Err(cut());
    }
    Ok(())
}

/// The image and tile size marker of a JPEG 2000 code stream (ITU-T T.800
/// A.5.1), as far as the decoder does not show it.
pub(super) struct Jpeg2000Frame<'a> {
    /// From the start marker on, without the boxes some files wrap around it.
    code_stream: &'a [u8],
    pub width_px: u32,
    pub height_px: u32,
    /// Tiles the picture is cut into.
    tiles: u64,
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
                tiles: tiles_along(right, word(32)?, word(24)?)?.checked_mul(tiles_along(
                    bottom,
                    word(36)?,
                    word(28)?,
                )?)?,
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
        if self.tiles > MOST_TILES {
            return Err(FilmFault::not_supported(
                format!("JPEG 2000 of {} tiles", self.tiles),
                "export the film in fewer tiles",
            ));
        }
        check_complete(self.code_stream, self.tiles)?;
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
