//! Comparing traces of one canal with a reference, and grading a class.
//!
//! [`files::grade_files`] goes the whole way from case files to grades;
//! [`reference::Reference`] and [`class::grade_class`] do the same in memory.

pub mod attempts;
pub mod class;
pub mod consensus;
pub mod copies;
pub mod csv;
pub mod distances;
pub mod double_marking;
pub mod files;
pub mod frechet;
pub mod grade;
pub mod hand_ins;
pub mod items;
pub mod length_unit;
mod lengths;
pub mod lines;
pub mod measures;
pub mod numbering;
pub mod own;
pub mod path;
pub mod private;
pub mod reference;
pub mod reference_canal;
pub mod roster;
pub mod rubric;
pub mod rubric_file;
pub mod rubric_line;
pub mod set_statistics;
pub mod statistics;
pub mod submission;
pub mod totals;
pub mod words;
