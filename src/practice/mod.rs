//! Practice: films, or blocks before and after shaping, whose truth is known
//! but sealed until it is graded against, so that students train against the truth rather than an opinion.
//!
//! [`make`] renders a set of films and seals their truth; [`OpenedSet::open`]
//! opens it with the passphrase; [`grade`] grades traces of any of the films,
//! [`grade_blocks`] pairs of cases on the blocks.

mod blocks;
mod error;
mod films;
mod grade;
mod grade_blocks;
mod pair_up;
mod passphrase;
mod records;
mod request;
mod seal;
mod spool;
mod truth;

pub use blocks::{BlockOfSet, BlockPicture};
pub use error::{LEAST_PASSPHRASE, MOST_FILMS, PracticeError};
pub use films::{MadeSet, is_sealed_path, make};
pub use grade::{FilmGrade, PracticeGrade, StudentTotal, grade};
pub use grade_blocks::grade_blocks;
pub use passphrase::{is_long_enough, passphrase_advice};
pub use request::{Difficulty, SetOf, SetRequest};
pub use truth::{FilmTruth, OpenedSet, films_folder};
