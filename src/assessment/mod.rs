//! The case difficulty assessment form of the American Association of
//! Endodontists, 2022 edition, as a table: its rows in our own words, its
//! limits, and the rule that makes one class of them (docs/methods.md 5.12).
//!
//! It knows no case and no film. The class of a row is entered or measured
//! elsewhere; a row that is neither stays open.

mod combine;
mod form;
mod limits;

pub use combine::{Tally, independent_probabilities, whole_case};
pub use form::{FORM, FORM_NAME, FormRow, RowGroup, RowKey, row_of_key};
pub use limits::{
    apex_opening_class, apex_opening_shares, inclination_class, position_class, tooth_length_class,
    tooth_length_shares,
};

use crate::curvature::DifficultyClass;

/// Shares of the classes, the easiest first; they add up to 1.
pub type Shares = [f64; 3];

/// All of a class.
pub fn certain(class: DifficultyClass) -> Shares {
    DifficultyClass::ALL.map(|one| f64::from(u8::from(one == class)))
}
