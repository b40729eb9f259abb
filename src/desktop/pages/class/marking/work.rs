//! Marks prepared, read and compared beside the window.

use std::path::{Path, PathBuf};

use crate::agreement::analysis::{AgreementAnalysis, analyse_ratings};
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::table::{Gaps, RatingTable, TableSettings};
use crate::agreement::text;
use crate::grading::double_marking::{self, DoubleMarked, Prepared};
use crate::spreadsheet::read_with_remark;

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 64 << 20;

/// Copies hand-ins for two markers.
///
/// # Errors
/// One line in plain words.
pub fn prepare(
    hand_ins: &Path,
    film: Option<&Path>,
    folder: &Path,
    key: &Path,
    seed: u64,
) -> Result<Prepared, String> {
    let hand_ins = [hand_ins.to_owned()];
    double_marking::prepare(&hand_ins, film, folder, key, seed).map_err(|error| error.to_string())
}

/// Brings the key and both tables of marks together.
///
/// # Errors
/// One line in plain words.
pub fn compare(tables: &[PathBuf; 3], names: [&str; 3]) -> Result<DoubleMarked, String> {
    let read = |path: &PathBuf| {
        read_with_remark(path, MAX_TABLE_BYTES)
            .map(|read| read.text)
            .map_err(|reason| format!("{}: {reason}", path.display()))
    };
    let [key, first, second] = [read(&tables[0])?, read(&tables[1])?, read(&tables[2])?];
    double_marking::compare(&key, [&first, &second], names).map_err(|error| error.to_string())
}

/// Agreement of a table of subjects × raters, line by line as the command
/// prints it. Subjects that not every rater has rated are left out, which is
/// said.
///
/// # Errors
/// One line in plain words.
pub fn analyse(path: &Path) -> Result<Vec<String>, String> {
    let at = |reason: &dyn std::fmt::Display| format!("{}: {reason}", path.display());
    let read = read_with_remark(path, MAX_TABLE_BYTES).map_err(|error| at(&error))?;
    let settings = TableSettings {
        gaps: Gaps::LeaveOut,
        ..TableSettings::default()
    };
    let mut table = RatingTable::parse(&read.text, settings).map_err(|error| at(&error))?;
    table.remarks.extend(read.remark.map(str::to_owned));
    let found = analyse_ratings(&table, LimitConvention::Normal196, &[]);
    Ok(lines(&found))
}

/// What was found, line by line.
pub fn lines(found: &AgreementAnalysis) -> Vec<String> {
    text::text(found).lines().map(str::to_owned).collect()
}
