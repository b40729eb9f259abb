//! A class that shapes practice blocks (or canals): many pairs before and
//! after, each held against a rubric, two groups compared level by level
//! (docs/before-after.md).

mod class;
mod csv;
mod grade;
mod groups;
mod measures;
mod open_pair;
mod pairs;
mod rubric;
mod text;
mod totals;
mod truth;

pub use class::{ClassSettings, ShapingClass, grade_class, grade_rows};
pub use csv::csv;
pub use grade::{CanalGrade, GradedPair, LineGrade, RefusedPair, grade_canal};
pub use groups::{GroupComparison, LevelDifference, compare_groups};
pub use measures::ShapingMeasure;
pub use pairs::{ExerciseBlock, PairRow, PairsError, read_pairs};
pub use rubric::ShapingRubric;
pub use text::{class_text, line_words};
pub use totals::Due;
pub use truth::TrueBlock;
