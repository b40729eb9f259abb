//! Why two films give no path in space: one clear line each.

use std::path::PathBuf;

use thiserror::Error;

use super::geometry::Receptor;
use crate::measure::{InputError, MeasureError};
use crate::uncertainty::UncertaintyError;

/// Two films that cannot be used together.
#[derive(Debug, Error)]
pub enum TwoViewError {
    /// A case or film that cannot be read or measured.
    #[error(transparent)]
    Case(#[from] MeasureError),
    /// What a case says cannot be used.
    #[error("{case}: {error}")]
    Input { case: String, error: InputError },
    /// Films from one direction, or nearly.
    #[error(
        "angle {degrees:.1}°: two films {} from one direction hold no depth; give the angle between \
         the films, {least}° to {greatest}° either way ({})",
        if *.degrees == 0.0 || degrees.abs() == 180.0 { "taken" } else { "taken nearly" },
        receptor.words()
    )]
    Angle {
        degrees: f64,
        least: f64,
        greatest: f64,
        receptor: Receptor,
    },
    /// The angle is not a number.
    #[error("the angle between the films is not a number; give it in degrees")]
    AngleNotFinite,
    /// The angle's half width is not usable.
    #[error("the angle's uncertainty of ± {degrees}° is not possible; give 0° to 30°")]
    AngleHalfWidth { degrees: f64 },
    /// One film twice.
    #[error("{a} and {b} are cases of one film; a second film from another direction is needed")]
    SameFilm { a: String, b: String },
    /// The films state different patients; no name is repeated here.
    #[error("{a} and {b}: the films state different patients; choose two films of one tooth")]
    DifferentPatients { a: String, b: String },
    /// The cases name different teeth.
    #[error(
        "{a} is of tooth {tooth_a}, {b} of tooth {tooth_b} (FDI); choose two films of one tooth, or \
         correct the tooth number"
    )]
    DifferentTeeth {
        a: String,
        b: String,
        tooth_a: u8,
        tooth_b: u8,
    },
    /// No canal is in both cases.
    #[error(
        "no canal has the same name in both cases ({a}: {canals_a}; {b}: {canals_b}); give the canal \
         one name in both"
    )]
    NoCommonCanal {
        a: String,
        b: String,
        canals_a: String,
        canals_b: String,
    },
    /// The canal asked for is not in a case.
    #[error(
        "{case}: has no canal \"{canal}\" (it has {has}); give the canal one name in both cases"
    )]
    NoSuchCanal {
        case: String,
        canal: String,
        has: String,
    },
    /// Too few points for a curve in space.
    #[error(
        "{case}: canal {canal}: has {found} trace point(s); place at least {needed} from the orifice \
         to the apex"
    )]
    TooFewPoints {
        case: String,
        canal: String,
        found: usize,
        needed: usize,
    },
    /// A film without a scale.
    #[error(
        "{case}: the film has no scale, so its points cannot be matched with the other film's; trace \
         a file of known length, or mark a ruler or ball"
    )]
    NoScale { case: String },
    /// The traces are not of the same stretch.
    #[error(
        "the traces cover different stretches of canal {canal}: {height_a_mm:.1} mm of height in {a}, \
         {height_b_mm:.1} mm in {b}; trace both from the orifice to the apex, and check both scales"
    )]
    DifferentStretches {
        canal: String,
        a: String,
        b: String,
        height_a_mm: f64,
        height_b_mm: f64,
    },
    /// The fit did not come to an end.
    #[error(
        "no curve in space fits both traces of canal {canal}; check that both show the same canal, \
         and the angle between the films"
    )]
    NoFit { canal: String },
    /// The intervals cannot be worked out.
    #[error("uncertainty: {0}")]
    Uncertainty(#[from] UncertaintyError),
    /// The case remembers no second film and none was named.
    #[error("{case}: remembers no second film; name the second case and --angle-deg")]
    NoSecondFilm { case: PathBuf },
    /// A second film without its angle.
    #[error("the angle between the films is not known; give --angle-deg")]
    NoAngle,
}
