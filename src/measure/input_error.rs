//! Inputs that cannot be used.

use thiserror::Error;

use crate::tooth::NoSuchTooth;
use crate::uncertainty::UncertaintyError;

/// Points of one trace closer than this are one point clicked twice
/// (docs/methods.md 2), px.
pub const DUPLICATE_DISTANCE_PX: f64 = 0.5;

/// An input that cannot be used: what, where, and how to mend it.
#[derive(Debug, PartialEq, Error)]
pub enum InputError {
    /// A coordinate is not a finite number, or lies outside the raster.
    #[error(
        "{place}: point ({}, {}) px lies outside the film ({width} x {height} px); move it onto the film",
        readable(*.x), readable(*.y)
    )]
    OutsideFilm {
        place: String,
        x: f64,
        y: f64,
        width: u32,
        height: u32,
    },
    /// More of something than a film can show.
    #[error("{place}: {found} {what} are more than the {most} allowed; check the file")]
    TooMany {
        place: String,
        what: &'static str,
        found: usize,
        most: usize,
    },
    /// Two points of a trace are one.
    #[error(
        "{place}: points {first} and {second} are less than {DUPLICATE_DISTANCE_PX} px apart; delete one"
    )]
    Duplicate {
        place: String,
        first: usize,
        second: usize,
    },
    /// Too few points for what they describe.
    #[error("{place}: has {found} point(s); place at least {needed}")]
    TooFewPoints {
        place: String,
        found: usize,
        needed: usize,
    },
    /// A trace from the apex to the orifice: every distance along it would be
    /// counted from the wrong end.
    #[error(
        "{place}: runs from the apex to the orifice; draw it from the orifice (finishing it in \
         the window turns it round)"
    )]
    RunsFromApex { place: String },
    /// A file from its tip to its stop.
    #[error("{place}: runs from the tip to the stop; trace it from the stop face")]
    RunsFromTip { place: String },
    /// Points of a ball that do not tell its size.
    #[error(
        "{place}: its points must lie around at least a third of the rim; spread them, or place \
         two at the ends of a diameter"
    )]
    Rim { place: String },
    /// Readings without their uncertainties, or the other way round.
    #[error("{place}: has {found} number(s); give one for each of the {needed} points")]
    Uneven {
        place: String,
        found: usize,
        needed: usize,
    },
    /// A number outside what it can mean.
    #[error(
        "{place}: {} is not possible; give a value from {least} to {greatest}",
        format!("{found} {unit}").trim_end()
    )]
    OutOfRange {
        place: String,
        found: f64,
        unit: &'static str,
        least: f64,
        greatest: f64,
    },
    /// A needed value is absent.
    #[error("{place}: is missing; enter it")]
    Missing { place: String },
    /// A tooth number that names no tooth.
    #[error("tooth: {0}")]
    Tooth(#[from] NoSuchTooth),
    /// The intervals cannot be worked out as asked.
    #[error("uncertainty: {0}")]
    Uncertainty(#[from] UncertaintyError),
    /// A scale taken over from a film of another size.
    #[error(
        "scale.earlier_film: that film has {width} x {height} px and this one {this_width} x \
         {this_height} px, so its scale does not hold here; take it out"
    )]
    OtherReceptor {
        width: u32,
        height: u32,
        this_width: u32,
        this_height: u32,
    },
    /// Two canals of one name.
    #[error("canals: the name \"{name}\" is used twice; rename one")]
    SameName { name: String },
}

/// Refuses a number outside its range.
pub fn in_range(
    place: &str,
    found: f64,
    unit: &'static str,
    least: f64,
    greatest: f64,
) -> Result<(), InputError> {
    if (least..=greatest).contains(&found) {
        Ok(())
    } else {
        Err(InputError::OutOfRange {
            place: place.to_owned(),
            found,
            unit,
            least,
            greatest,
        })
    }
}

/// A coordinate in at most a few digits, however absurd it is.
fn readable(coordinate: f64) -> String {
    if coordinate.abs() < 1e6 {
        coordinate.to_string()
    } else {
        format!("{coordinate:.1e}")
    }
}
