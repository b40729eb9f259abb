//! How much a film may take in memory.

use super::fault::FilmFault;
use super::memory;

/// Limits held before memory is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OpenLimits {
    /// Most pixels a film may have.
    pub max_pixels: u64,
}

impl Default for OpenLimits {
    /// 200 megapixels: some hundred times a periapical film.
    fn default() -> Self {
        Self {
            max_pixels: 200_000_000,
        }
    }
}

impl OpenLimits {
    /// Bytes a pixel may take in a file: four 16-bit channels.
    const FILE_BYTES_PER_PIXEL: u64 = 8;
    /// Bytes a file may hold besides pixels: headers, previews, profiles.
    const OTHER_BYTES: u64 = 64 << 20;

    /// Refuses an empty film and one with more pixels than the limit; else the
    /// bytes that decoding it may take. Waits until all films being decoded have
    /// room for it.
    pub(crate) fn check_size(&self, width_px: u64, height_px: u64) -> Result<u64, FilmFault> {
        if width_px == 0 || height_px == 0 {
            return Err(FilmFault::damaged("image", "it has no pixels"));
        }
        if width_px > u64::from(u32::MAX)
            || height_px > u64::from(u32::MAX)
            || width_px.saturating_mul(height_px) > self.max_pixels
        {
            return Err(FilmFault::TooLarge {
                width_px,
                height_px,
                limit_px: self.max_pixels,
            });
        }
        let bytes = Self::bytes_for(width_px * height_px);
        memory::need_for_pixels(bytes);
        Ok(bytes)
    }

    /// Refuses more bytes than any film within the limit can need.
    pub(crate) fn check_bytes(&self, bytes: u64) -> Result<(), FilmFault> {
        if bytes > self.max_bytes() {
            return Err(FilmFault::TooManyBytes {
                bytes,
                limit_px: self.max_pixels,
            });
        }
        Ok(())
    }

    /// Most bytes of an uncompressed film within the limit.
    pub(crate) fn max_bytes(&self) -> u64 {
        Self::bytes_for(self.max_pixels)
    }

    /// Most bytes that decoding a film of `pixels` may take.
    fn bytes_for(pixels: u64) -> u64 {
        pixels
            .saturating_mul(Self::FILE_BYTES_PER_PIXEL)
            .saturating_add(Self::OTHER_BYTES)
    }
}
