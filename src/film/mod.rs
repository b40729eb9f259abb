//! Films: full-depth grey rasters and every fact about scale they carry.
//!
//! [`open`] reads PNG, JPEG, TIFF, BMP and DICOM, told apart by their first
//! bytes. Whatever the file holds becomes one grey [`Film`] at the depth it
//! was stored:
//!
//! - colour → grey by the luma of ITU-R BT.601, Y = 0.299 R + 0.587 G +
//!   0.114 B, which leaves grey stored as colour unchanged;
//! - partly transparent pixels are composited over black, with a warning;
//! - an EXIF or TIFF orientation is applied first: film points refer to the
//!   raster after it, as every viewer shows it;
//! - palette and 1-, 2- and 4-bit pictures are unpacked.
//!
//! Scale facts are listed, never applied: see [`ScaleFacts`].

mod cache;
pub mod contrast;
pub mod dicom;
mod fault;
mod grey;
mod info;
mod limits;
mod memory;
mod open;
mod opened;
mod raster;
mod save;
pub mod scale_facts;
pub mod window;

pub use cache::FilmCache;
pub use fault::{FilmError, FilmFault};
pub use info::{info_json, info_text};
pub use limits::OpenLimits;
pub use open::{hex_digest, open, open_bytes, open_watched};
pub use opened::{FilmFacts, FilmFormat, InstanceReference, OpenedFilm, PatientIdentity};
pub use scale_facts::{DicomScale, ScaleFacts, ScalePlane, ScaleSource};
pub use window::{Window, WindowFunction};

/// Which end of the stored scale is radio-opaque (bright on a film as viewed).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// Large samples are radio-opaque: MONOCHROME2 and ordinary pictures.
    HighIsOpaque,
    /// Small samples are radio-opaque: MONOCHROME1 (PS3.3 C.7.6.3.1.2).
    LowIsOpaque,
}

/// The linear law from a sample to the value the modality meant
/// (PS3.3 C.11.1): value = slope · sample + intercept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rescale {
    /// Value per sample step.
    pub slope: f64,
    /// Value of sample 0.
    pub intercept: f64,
}

impl Rescale {
    /// Samples are the values.
    pub const IDENTITY: Self = Self {
        slope: 1.0,
        intercept: 0.0,
    };
}

/// One film in memory: row-major grey samples at the depth they were stored.
#[derive(Clone, Debug)]
pub struct Film {
    width_px: u32,
    height_px: u32,
    bits_stored: u8,
    polarity: Polarity,
    rescale: Rescale,
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
            rescale: Rescale::IDENTITY,
            samples,
        })
    }

    /// The same film with another law from samples to values.
    #[must_use]
    pub fn with_rescale(self, rescale: Rescale) -> Self {
        Self { rescale, ..self }
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

    /// Largest sample the depth allows, `2^bits_stored − 1`.
    pub fn max_sample(&self) -> u16 {
        max_sample(self.bits_stored)
    }

    /// Which end of the sample scale is radio-opaque.
    pub fn polarity(&self) -> Polarity {
        self.polarity
    }

    /// The law from samples to values; identity but for DICOM.
    pub fn rescale(&self) -> Rescale {
        self.rescale
    }

    /// All samples, row-major. Signed DICOM samples are raised by
    /// `2^(bits_stored − 1)`; [`Film::value_of`] takes that back.
    pub fn samples(&self) -> &[u16] {
        &self.samples
    }

    /// The sample in column `x`, row `y`; `None` outside the raster.
    pub fn sample(&self, x: u32, y: u32) -> Option<u16> {
        (x < self.width_px && y < self.height_px)
            .then(|| self.samples[y as usize * self.width_px as usize + x as usize])
    }

    /// The modality value of a sample (rescale and sign applied).
    pub fn value_of(&self, sample: u16) -> f64 {
        self.rescale.slope * f64::from(sample) + self.rescale.intercept
    }
}

/// Largest sample of `bits` (1–16).
pub(crate) fn max_sample(bits: u8) -> u16 {
    u16::MAX >> (16 - bits.clamp(1, 16))
}
