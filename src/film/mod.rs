//! Films: full-depth grey rasters and every fact about scale they carry.

/// Which end of the stored scale is radio-opaque (bright on a film as viewed).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// Large samples are radio-opaque: MONOCHROME2 and ordinary pictures.
    HighIsOpaque,
    /// Small samples are radio-opaque: MONOCHROME1 (PS3.3 C.7.6.3.1.2).
    LowIsOpaque,
}

/// One film in memory: row-major grey samples at the depth they were stored.
#[derive(Clone, Debug)]
pub struct Film {
    width_px: u32,
    height_px: u32,
    bits_stored: u8,
    polarity: Polarity,
    samples: Vec<u16>,
}

impl Film {
    /// A film from row-major samples (`width_px · height_px` of them, each
    /// below `2^bits_stored`); `None` when the counts do not fit.
    pub fn from_samples(
        width_px: u32,
        height_px: u32,
        bits_stored: u8,
        polarity: Polarity,
        samples: Vec<u16>,
    ) -> Option<Self> {
        let fits = samples.len() as u64 == u64::from(width_px) * u64::from(height_px);
        (fits && (1..=16).contains(&bits_stored)).then_some(Self {
            width_px,
            height_px,
            bits_stored,
            polarity,
            samples,
        })
    }

    /// Columns.
    pub fn width_px(&self) -> u32 {
        self.width_px
    }

    /// Rows.
    pub fn height_px(&self) -> u32 {
        self.height_px
    }

    /// Depth of the stored samples, 1–16.
    pub fn bits_stored(&self) -> u8 {
        self.bits_stored
    }

    /// Which end of the sample scale is radio-opaque.
    pub fn polarity(&self) -> Polarity {
        self.polarity
    }

    /// All samples, row-major, as stored.
    pub fn samples(&self) -> &[u16] {
        &self.samples
    }
}
