//! A class of blocks read, graded and written beside the window.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::atomic_file;
use crate::desktop::ui::wording::counted;
use crate::film::OpenedFilm;
use crate::grading::roster::Roster;
use crate::grading::totals;
use crate::practice::{self, OpenedSet, PracticeError};
use crate::progress::Progress;
use crate::shaping::Comparison;
use crate::shaping_class::{
    ClassSettings, GradedPair, PairRow, ShapingClass, ShapingRubric, csv, grade_class, read_pairs,
};
use crate::shaping_record::PairSheets;
use crate::spreadsheet::{Dialect, read_watched};

/// Largest table read, bytes.
const MAX_TABLE_BYTES: u64 = 16 << 20;

/// What is graded.
#[derive(Clone, Debug)]
pub enum Source {
    /// The pairs that a table names.
    Table(Vec<PairRow>),
    /// The blocks of an exercise set, against their truth.
    Set(Arc<BlockSet>),
}

impl Source {
    /// The set's own pictures of a block.
    pub fn films_of(&self, block: Option<&str>) -> Option<[PathBuf; 2]> {
        let Self::Set(set) = self else {
            return None;
        };
        let mut blocks = set.opened.blocks.iter();
        let block = blocks.find(|one| Some(one.name.as_str()) == block)?;
        Some(block.exercise(&set.folder).films)
    }

    /// In a few words.
    pub fn words(&self) -> String {
        match self {
            Self::Table(rows) => counted(rows.len(), "pair"),
            Self::Set(set) => format!(
                "Exercise set of {}",
                counted(set.opened.blocks.len(), "block")
            ),
        }
    }
}

/// An exercise set of blocks that was opened, and what was handed in.
#[derive(Clone, Debug)]
pub struct BlockSet {
    pub opened: OpenedSet,
    /// Where its pictures lie.
    pub folder: PathBuf,
    /// Cases, and folders of them.
    pub hand_ins: Vec<PathBuf>,
    pub roster: Roster,
}

/// What is graded, and how.
#[derive(Clone, Debug)]
pub struct Order {
    pub source: Source,
    pub settings: ClassSettings,
}

/// What can be written of a class of blocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlocksRecord {
    /// One row per canal and line of the rubric.
    Table,
    /// One row per student.
    Totals,
    /// A PDF per pair.
    Sheets,
}

/// Reads the table that says which cases belong together.
///
/// # Errors
/// One line in plain words.
pub fn read(path: &Path, progress: &Progress) -> Result<(PathBuf, Source), String> {
    let at = |reason: &dyn std::fmt::Display| format!("{}: {reason}", path.display());
    let read = read_watched(path, MAX_TABLE_BYTES, progress).map_err(|error| at(&error))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let rows = read_pairs(&read.text, folder).map_err(|error| at(&error))?;
    Ok((path.to_owned(), Source::Table(rows)))
}

/// Reads a rubric for shaping.
///
/// # Errors
/// One line in plain words.
pub fn read_rubric(path: &Path, progress: &Progress) -> Result<(PathBuf, ShapingRubric), String> {
    let at = |reason: &dyn std::fmt::Display| format!("{}: {reason}", path.display());
    let of_disk = path.to_owned();
    let read = progress.wait_for(move || ShapingRubric::load(&of_disk));
    let rubric = read
        .map_err(|stop| at(&stop))?
        .map_err(|error| at(&error))?;
    Ok((path.to_owned(), rubric))
}

/// Grades pair after pair; `None`: it was stopped.
///
/// # Errors
/// One line in plain words.
pub fn grade(order: &Order, progress: &Progress<'_>) -> Option<Result<ShapingClass, String>> {
    grade_each(order, progress, |_, _, _| {})
}

fn grade_each(
    order: &Order,
    progress: &Progress<'_>,
    each: impl FnMut(&GradedPair, &Comparison, &[OpenedFilm; 2]),
) -> Option<Result<ShapingClass, String>> {
    let settings = &order.settings;
    match &order.source {
        Source::Table(rows) => grade_class(rows, settings, progress, each).ok().map(Ok),
        Source::Set(set) => {
            let BlockSet {
                opened,
                folder,
                hand_ins,
                roster,
            } = &**set;
            let graded =
                practice::grade_blocks(opened, folder, hand_ins, roster, settings, progress, each);
            match graded {
                Err(PracticeError::GradingStopped) => None,
                graded => Some(graded.map_err(|error| error.to_string())),
            }
        }
    }
}

/// Writes a record; what was done, in words. `anonymous`: numbers stand in
/// place of names, as in `class`.
///
/// # Errors
/// One line in plain words.
pub fn write(
    kind: BlocksRecord,
    order: &Order,
    class: &ShapingClass,
    anonymous: bool,
    path: &Path,
    progress: &Progress<'_>,
) -> Result<String, String> {
    let dialect = Dialect {
        semicolons: false,
        byte_order_mark: true,
    };
    let table = match kind {
        BlocksRecord::Table => csv(class, dialect),
        BlocksRecord::Totals => totals::table(&class.totals, dialect),
        BlocksRecord::Sheets => return sheets(order, anonymous, path, progress),
    };
    atomic_file::write(path, &table)
        .map_err(|error| format!("{}: {}", path.display(), atomic_file::reason(&error)))?;
    Ok(format!("Saved as {}", path.display()))
}

/// A sheet per pair, its pictures read once more; what is there is kept.
fn sheets(
    order: &Order,
    anonymous: bool,
    folder: &Path,
    progress: &Progress<'_>,
) -> Result<String, String> {
    let mut sheets = PairSheets::new(anonymous);
    let graded = grade_each(order, progress, |pair, comparison, films| {
        sheets.add(pair, comparison, films);
    });
    match graded {
        None => return Ok("Stopped: no sheet is written".to_owned()),
        Some(graded) => graded?,
    };
    let sheets = sheets.write(folder, false)?;
    let written = counted(sheets.written.len(), "sheet");
    match sheets.failed.first() {
        Some(first) => Err(format!(
            "{written} written, {} not: {first}",
            sheets.failed.len()
        )),
        None => Ok(format!("{written} written into {}", folder.display())),
    }
}
