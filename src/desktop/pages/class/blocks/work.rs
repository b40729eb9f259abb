//! A class of blocks read, graded and written beside the window.

use std::path::{Path, PathBuf};

use crate::atomic_file;
use crate::desktop::ui::wording::counted;
use crate::feedback;
use crate::progress::Progress;
use crate::report;
use crate::shaping_class::{
    ClassSettings, PairRow, ShapingClass, ShapingRubric, csv, grade_class, read_pairs,
};
use crate::shaping_record;
use crate::spreadsheet::{Dialect, read_with_remark};

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 16 << 20;

/// What is graded, and how.
#[derive(Clone, Debug)]
pub struct Order {
    pub rows: Vec<PairRow>,
    pub settings: ClassSettings,
}

/// What can be written of a class of blocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlocksRecord {
    /// One row per canal and line of the rubric.
    Table,
    /// A PDF per pair.
    Sheets,
}

/// Reads the table that says which cases belong together.
///
/// # Errors
/// One line in plain words.
pub fn read(path: &Path) -> Result<(PathBuf, Vec<PairRow>), String> {
    let at = |reason: &dyn std::fmt::Display| format!("{}: {reason}", path.display());
    let read = read_with_remark(path, MAX_TABLE_BYTES).map_err(|error| at(&error))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let rows = read_pairs(&read.text, folder).map_err(|error| at(&error))?;
    Ok((path.to_owned(), rows))
}

/// Reads a rubric for shaping.
///
/// # Errors
/// One line in plain words.
pub fn read_rubric(path: &Path) -> Result<(PathBuf, ShapingRubric), String> {
    let rubric = ShapingRubric::load(path);
    let rubric = rubric.map_err(|reason| format!("{}: {reason}", path.display()))?;
    Ok((path.to_owned(), rubric))
}

/// Grades pair after pair; `None`: it was stopped.
pub fn grade(order: &Order, progress: &Progress<'_>) -> Option<ShapingClass> {
    grade_class(&order.rows, &order.settings, progress, |_, _, _| {}).ok()
}

/// Writes a record; what was done, in words.
///
/// # Errors
/// One line in plain words.
pub fn write(
    kind: BlocksRecord,
    order: &Order,
    class: &ShapingClass,
    path: &Path,
    progress: &Progress<'_>,
) -> Result<String, String> {
    match kind {
        BlocksRecord::Table => {
            let dialect = Dialect {
                semicolons: false,
                byte_order_mark: true,
            };
            save(path, &csv(class, dialect))?;
            Ok(format!("Saved as {}", path.display()))
        }
        BlocksRecord::Sheets => sheets(order, path, progress),
    }
}

/// A sheet per pair, its pictures read once more; what is there is kept.
fn sheets(order: &Order, folder: &Path, progress: &Progress<'_>) -> Result<String, String> {
    let mut sheets = Vec::new();
    let class = grade_class(
        &order.rows,
        &order.settings,
        progress,
        |pair, found, films| {
            let sheet = shaping_record::graded_sheet(found, films, pair);
            sheets.push(report::pdf_bytes(&sheet));
        },
    );
    let Ok(class) = class else {
        return Ok("Stopped: no sheet is written".to_owned());
    };
    std::fs::create_dir_all(folder)
        .map_err(|error| format!("{}: {}", folder.display(), atomic_file::reason(&error)))?;
    let names = feedback::file_names(class.pairs.iter().map(|pair| pair.student.as_str()));
    let (mut written, mut failed) = (0, None);
    for (name, sheet) in names.iter().zip(sheets) {
        let path = folder.join(name);
        let done = match sheet {
            _ if path.symlink_metadata().is_ok() => {
                Err(format!("{}: exists already and is kept", path.display()))
            }
            Ok(bytes) => save(&path, &bytes),
            Err(reason) => Err(format!("{}: {reason}", path.display())),
        };
        match done {
            Ok(()) => written += 1,
            Err(reason) => failed = failed.or(Some(reason)),
        }
    }
    match failed {
        Some(first) => Err(format!(
            "{} written, {} not: {first}",
            counted(written, "sheet"),
            class.pairs.len() - written
        )),
        None => Ok(format!(
            "{} written into {}",
            counted(written, "sheet"),
            folder.display()
        )),
    }
}

fn save(path: &Path, bytes: &[u8]) -> Result<(), String> {
    atomic_file::write(path, bytes)
        .map_err(|error| format!("{}: {}", path.display(), atomic_file::reason(&error)))
}
