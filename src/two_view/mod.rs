//! Two films, one canal: its length, bends and their planes in space.
//!
//! A film is one projection. Two films from directions a known angle apart
//! give the path in space: [`geometry`] says where a place shows on each,
//! [`fit`] fits one curve of few parameters to the points of both, [`search`]
//! chooses its form, [`propagation`] works out what is uncertain, and
//! [`two_view`] goes the whole way. See `docs/two-views.md`.

mod course;
pub mod curves;
mod error;
mod exposures;
mod film_plane;
pub mod findings;
pub mod fit;
pub mod form;
mod further;
pub mod geometry;
mod observation;
mod on_films;
mod pair;
pub mod path;
mod pipeline;
mod propagation;
pub mod search;
pub mod shared_object;
mod sharp_arcs;
mod summary;
mod text;
mod warnings;
pub mod words;

pub use course::SpaceCourse;
pub use error::TwoViewError;
pub use exposures::{
    ANGLE_HALF_WIDTH_RAD, Exposures, ROLL_HALF_WIDTH_RAD, SCALE_PLACE_HALF_WIDTH_MM,
};
pub use findings::TwoViewFindings;
pub use geometry::Receptor;
pub use observation::Side;
pub use on_films::PairOnFilms;
pub use pair::MISMATCH_LIMIT_MM;
pub use pipeline::{
    OpenCase, check_patients, courses_of_remembered, of_remembered, second_case_path, stored_path,
    two_view, two_view_files, two_view_on_films,
};
pub use summary::PairInSpace;
pub use text::{findings_text, rows};
