//! Colours, signs, words and small widgets; they know no case.

pub mod film_paint;
pub mod icons;
pub mod palette;
pub mod passphrase;
pub mod widgets;
pub mod wording;
