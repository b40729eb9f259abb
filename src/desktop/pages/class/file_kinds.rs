//! Kinds of file that the class and its parts ask for.

use crate::desktop::state::file_chooser::{ALL_FILES, FileKind};

/// Cases.
pub const CASES: &[FileKind] = &[kind("Cases", &["json"]), ALL_FILES];
/// Rubrics, of traces and of shaping.
pub const RUBRICS: &[FileKind] = &[kind("Rubrics", &["json"]), ALL_FILES];
/// Truth of an exercise set.
pub const SEALED: &[FileKind] = &[kind("Sealed truth", &["sealed"]), ALL_FILES];
/// Tables, and lists of names.
pub const TABLES: &[FileKind] = &[kind("Tables", &["csv", "txt", "tsv"]), ALL_FILES];
/// Sheets of paper.
pub const PAGES: &[FileKind] = &[kind("PDF", &["pdf"]), ALL_FILES];
/// Films of any format.
pub const FILMS: &[FileKind] = &[ALL_FILES];

const fn kind(name: &'static str, endings: &'static [&'static str]) -> FileKind {
    FileKind { name, endings }
}
