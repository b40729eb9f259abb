//! Registration of two pictures of one object on marks placed on both.
//!
//! Frame-neutral: a [`kurbo::Point`] is in any isotropic unit, x right, y down;
//! a positive rotation is clockwise on the film.

mod similarity;
mod target_error;

pub use similarity::{Registration, RegistrationError, Scale, Similarity, centroid, register};
pub use target_error::{expected_residual_rms, target_error_rms};
