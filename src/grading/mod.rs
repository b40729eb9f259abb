//! Comparing traces of one canal with a reference, and grading a class.
//!
//! [`files::grade_files`] goes the whole way from case files to grades;
//! [`reference::Reference`] and [`class::grade_class`] do the same in memory.

pub mod class;
pub mod consensus;
pub mod csv;
pub mod distances;
pub mod files;
pub mod frechet;
pub mod grade;
pub mod measures;
pub mod path;
pub mod reference;
pub mod rubric;
pub mod submission;
pub mod words;
