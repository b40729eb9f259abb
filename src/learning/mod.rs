//! Learning over time: from the results of a student, case after case, when
//! competence has been shown, and how often that would be said wrongly.

pub mod analysis;
pub mod compare;
pub mod error;
pub mod lc_cusum;
pub mod run_length;
pub mod signed;
pub mod table;
pub mod text;
