//! Colours, signs, words and small widgets; they know no case.

pub mod checked_field;
pub mod film_paint;
pub mod icons;
pub mod labels;
pub mod palette;
pub mod passphrase;
pub mod plots;
pub mod widgets;
pub mod wording;
