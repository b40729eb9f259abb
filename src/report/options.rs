//! What may be asked of an export.

use crate::measure::MeasureSettings;

/// What one export may hold and overwrite.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ExportOptions {
    /// Write the patient's and the study's identity. Off: no name, number or
    /// birth date reaches the file.
    pub include_identity: bool,
    /// Name the files of film and case as they are called; off: by a label that
    /// says nothing of whose they are.
    pub include_file_names: bool,
    /// What may happen to files that exist.
    pub existing: Existing,
    /// The settings the findings were measured under.
    pub settings: MeasureSettings,
}

/// What an export may do to files that exist.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Existing {
    /// All are kept: a file of the record's own name is an error, a film
    /// beside it gets a name that is free.
    #[default]
    Keep,
    /// The file named may go, with the film beside it that it refers to; any
    /// other film is kept.
    ReplaceNamed,
}
