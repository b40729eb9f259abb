//! Why a film could not be opened: what, where, and how to mend it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::atomic_file;

/// A film file that cannot be used; its display is one line.
#[derive(Debug, Error)]
#[error("{}: {fault}", path.display())]
pub struct FilmError {
    /// The film file, as it was named.
    pub path: PathBuf,
    /// What is wrong with it.
    pub fault: FilmFault,
}

impl FilmError {
    /// `fault` of the file at `path`.
    pub fn new(path: &Path, fault: FilmFault) -> Self {
        Self {
            path: path.to_path_buf(),
            fault,
        }
    }
}

/// What is wrong with a film file, and how to mend it.
#[derive(Debug, Error)]
pub enum FilmFault {
    /// The operating system refused.
    #[error("{}", atomic_file::reading_reason(.0))]
    Io(#[from] std::io::Error),
    /// The film cannot be written.
    #[error("cannot be written: {}", atomic_file::reason(.0))]
    Unwritten(std::io::Error),
    /// No known format by its first bytes.
    #[error("not a film format known here: give a PNG, JPEG, TIFF, BMP or DICOM file")]
    UnknownFormat,
    /// Truncated or corrupt.
    #[error("the {format} data are damaged ({detail}): export or copy the film again")]
    Damaged {
        /// Format or encoding that failed.
        format: &'static str,
        /// What the decoder said, one line.
        detail: String,
    },
    /// Larger than the limit in force.
    #[error(
        "the film is {width_px} × {height_px} px, more than the limit of {limit_px} px: crop it or raise the limit"
    )]
    TooLarge {
        /// Columns by the file's header.
        width_px: u64,
        /// Rows by the file's header.
        height_px: u64,
        /// Most pixels that may be decoded.
        limit_px: u64,
    },
    /// More bytes than any film within the limit needs.
    #[error(
        "the file would take {bytes} bytes of memory, more than a film within the limit of {limit_px} px needs: check that it is a film, or raise the limit"
    )]
    TooManyBytes {
        /// Bytes found or announced.
        bytes: u64,
        /// Most pixels that may be decoded.
        limit_px: u64,
    },
    /// A valid film of a kind this program does not decode.
    #[error("{what} cannot be decoded here: {mend}")]
    NotSupported {
        /// The feature.
        what: String,
        /// What the user can do.
        mend: &'static str,
    },
    /// Several frames in one object.
    #[error("the object holds {frames} frames: export the one to be measured as a single frame")]
    MultiFrame {
        /// Number of Frames (0028,0008).
        frames: u32,
    },
    /// An attribute without which pixels make no sense.
    #[error("the DICOM attribute {attribute} is {problem}: export the film again")]
    Attribute {
        /// Name of the attribute.
        attribute: &'static str,
        /// `missing`, or the offending value in words.
        problem: String,
    },
}

impl FilmFault {
    /// Damage found by a decoder of `format`, its message made one short line.
    pub(crate) fn damaged(format: &'static str, detail: impl std::fmt::Display) -> Self {
        Self::Damaged {
            format,
            detail: one_line(&detail.to_string()),
        }
    }

    pub(crate) fn not_supported(what: impl AsRef<str>, mend: &'static str) -> Self {
        Self::NotSupported {
            what: one_line(what.as_ref()),
            mend,
        }
    }
}

/// Text that came from a file or a decoder, as one short line.
fn one_line(text: &str) -> String {
    const LONGEST: usize = 160;
    text.split(|c: char| c.is_whitespace() || c.is_control())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
        .chars()
        .take(LONGEST)
        .collect()
}

/// Runs one decoder of a dependency and turns a panic inside it into damage.
///
/// Decoders of compressed data may hold an arithmetic or indexing bug that
/// only hostile bytes reach; the film is then refused like any damaged one.
pub(crate) fn contained<T>(
    format: &'static str,
    decode: impl FnOnce() -> Result<T, FilmFault>,
) -> Result<T, FilmFault> {
    catch_unwind(AssertUnwindSafe(decode))
        .unwrap_or_else(|_| Err(FilmFault::damaged(format, "its decoder gave up")))
}
