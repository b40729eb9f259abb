//! Marks prepared, read and compared beside the window.

use std::path::{Path, PathBuf};

use crate::agreement::analysis::{AgreementAnalysis, analyse_ratings};
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::table::{Gaps, RatingTable, TableSettings};
use crate::agreement::text;
use crate::atomic_file;
use crate::grading::double_marking::{self, DoubleMarked, Prepared};
use crate::progress::Progress;
use crate::spreadsheet::{TableText, read_watched};

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
    progress: &Progress,
) -> Result<Prepared, String> {
    let hand_ins = [hand_ins.to_owned()];
    double_marking::prepare(&hand_ins, film, folder, key, seed, progress)
        .map_err(|error| error.to_string())
}

/// Brings the key and both tables of marks together.
///
/// # Errors
/// One line in plain words.
pub fn compare(
    tables: &[PathBuf; 3],
    names: [&str; 3],
    progress: &Progress,
) -> Result<DoubleMarked, String> {
    let read = |path: &PathBuf| Ok::<_, String>(table(path, progress)?.text);
    let [key, first, second] = [read(&tables[0])?, read(&tables[1])?, read(&tables[2])?];
    double_marking::compare(&key, [&first, &second], names).map_err(|error| error.to_string())
}

fn table(path: &Path, progress: &Progress) -> Result<TableText, String> {
    read_watched(path, MAX_TABLE_BYTES, progress)
        .map_err(|reason| format!("{}: {reason}", path.display()))
}

/// Agreement of a table of subjects × raters, line by line as the command
/// prints it. Subjects that not every rater has rated are left out, which is
/// said.
///
/// # Errors
/// One line in plain words.
pub fn analyse(path: &Path, progress: &Progress) -> Result<Vec<String>, String> {
    let read = table(path, progress)?;
    let settings = TableSettings {
        gaps: Gaps::LeaveOut,
        ..TableSettings::default()
    };
    let mut table = RatingTable::parse(&read.text, settings)
        .map_err(|error| format!("{}: {error}", path.display()))?;
    table.remarks.extend(read.remark.map(str::to_owned));
    let found = analyse_ratings(&table, LimitConvention::Normal196, &[]);
    Ok(lines(&found))
}

/// Writes both markers' marks by student.
///
/// # Errors
/// One line in plain words.
pub fn save_marks(marks: &[u8], path: PathBuf) -> Result<PathBuf, String> {
    match atomic_file::write(&path, marks) {
        Ok(()) => Ok(path),
        Err(error) => Err(format!(
            "{}: {}",
            path.display(),
            atomic_file::reason(&error)
        )),
    }
}

/// What was found, line by line.
pub fn lines(found: &AgreementAnalysis) -> Vec<String> {
    text::text(found).lines().map(str::to_owned).collect()
}
