//! Why two films cannot be compared: one clear line each.

use thiserror::Error;

use crate::measure::{InputError, MeasureError};
use crate::registration::RegistrationError;
use crate::uncertainty::UncertaintyError;

/// Why two films cannot be compared.
#[derive(Debug, Error)]
pub enum ShapingError {
    /// A case or film cannot be read.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// The films are of two people.
    #[error(
        "{before} and {after}: the films state different patients; choose two films of one tooth"
    )]
    DifferentPatients { before: String, after: String },
    /// What a case says cannot be used.
    #[error("{film}: {error}")]
    Input { film: String, error: InputError },
    /// The marks cannot be used.
    #[error("marks: {0}")]
    Marks(#[from] RegistrationError),
    /// Two marks of one name.
    #[error("{film}: the mark \"{name}\" is there twice; rename one")]
    SameMark { film: String, name: String },
    /// Marks fit only if one picture is turned over.
    #[error(
        "the marks fit only if one picture is turned over ({mirrored} instead of {residual}): the \
         pictures show opposite sides, or the marks are named in the opposite order; flip one \
         picture before opening it, or rename its marks"
    )]
    OppositeSides { residual: String, mirrored: String },
    /// Marks do not fit.
    #[error(
        "the marks do not fit: {residual} remains, and mark \"{worst}\" fits worst; are these \
         the same block or tooth, and are the marks named alike?"
    )]
    Different { residual: String, worst: String },
    /// No canal is in both.
    #[error(
        "no canal of the same name has a trace in the first film and walls in both; name them \
         alike, trace the canal, and trace its walls or have them followed (--follow-walls)"
    )]
    NoCommonCanal,
    /// The canals lie apart.
    #[error(
        "canal {canal}: before and after do not overlap once the pictures are brought over each \
         other; check that the marks are named alike and that it is the same canal"
    )]
    NoOverlap { canal: String },
    /// Left and right wall change sides.
    #[error(
        "canal {canal}, {film}: the left and the right wall cross {from_end_mm:.1} mm from the \
         end; move the points there, or exchange left and right where all are exchanged"
    )]
    WallsCross {
        canal: String,
        film: String,
        from_end_mm: f64,
    },
    /// A wall with too few points.
    #[error("canal {canal}, {film}: the {side} wall cannot be used: {reason}")]
    Wall {
        canal: String,
        film: String,
        side: &'static str,
        reason: String,
    },
    /// A number out of range.
    #[error("{what}: {found} is not possible; give a value from {least} to {greatest}")]
    OutOfRange {
        what: &'static str,
        found: f64,
        least: f64,
        greatest: f64,
    },
    /// Walls cannot be followed.
    #[error("canal {canal}, {film}: {error}")]
    Follow {
        canal: String,
        film: String,
        error: FollowError,
    },
    /// The intervals cannot be worked out.
    #[error("uncertainty: {0}")]
    Uncertainty(#[from] UncertaintyError),
}

/// Why walls cannot be followed.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum FollowError {
    /// No line to follow along.
    #[error("the canal has no trace to follow the walls along; trace it first")]
    NoTrace,
    /// The trace is too short, or leaves the film.
    #[error("the canal's trace is too short to follow walls along; trace them by hand")]
    TooShort,
    /// Walls are not seen.
    #[error(
        "the walls are seen along {:.0} % of the canal only; trace them by hand",
        100.0 * seen
    )]
    NotSeen {
        /// Share of sections with two edges.
        seen: f64,
    },
}
