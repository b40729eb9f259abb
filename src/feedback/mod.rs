//! Feedback sheets: one page of PDF per trace, for the student who drew it.
//!
//! Picture, numbers, one sentence per line of the rubric and the cautions,
//! tied to the case file by its hash.

mod figure;
mod sheet;
mod summary;

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::atomic_file;
use crate::film::{self, OpenLimits};
use crate::grading::files::ClassGrade;
use crate::progress::{Progress, Steps};
use crate::report;

pub use sheet::of as sheet;
pub use summary::{Statistics, Summary, of as summary};

/// Longest part of a student's name in a file name, characters.
const LONGEST_NAME: usize = 60;

/// What has become of the sheets of a class.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sheets {
    /// In the order of the traces.
    pub written: Vec<PathBuf>,
    /// One clear line for each that could not be written.
    pub failed: Vec<String>,
    /// The run was stopped: sheets may be missing.
    pub cancelled: bool,
}

/// Writes one sheet per graded trace into `folder` (made if need be), named
/// after the student as `class` names them. `film` is where the reference's
/// film is; a class without names does not say so itself. `replace`: files of
/// that name may go.
///
/// # Errors
/// One clear line: the film cannot be read, or the folder not be made. A
/// single sheet that cannot be written is listed and does not stop the others.
pub fn write(
    class: &ClassGrade,
    film: &Path,
    folder: &Path,
    replace: bool,
    progress: &Progress,
) -> Result<Sheets, String> {
    let opened = film::open(film, &OpenLimits::default()).map_err(|error| error.to_string())?;
    if opened.sha256 != class.reference.film_sha256 {
        return Err("the film has changed since the class was graded: grade it again".to_owned());
    }
    let is_new_folder = !folder.exists();
    std::fs::create_dir_all(folder).map_err(|error| {
        let reason = atomic_file::reason(&error);
        format!("{}: cannot be made: {reason}", folder.display())
    })?;
    let film = report::film_for_viewing(&opened.film);
    let names = file_names(class.traces.iter().map(|trace| trace.student.as_str()));
    let orders: Vec<_> = class.traces.iter().zip(names).collect();
    let steps = Steps::new(progress, orders.len());
    let outcomes: Vec<_> = orders
        .par_iter()
        .map(|(trace, name)| {
            if progress.is_cancelled() {
                return None;
            }
            let path = folder.join(name);
            let outcome = write_one(&sheet(class, trace, &film), &path, replace);
            steps.step();
            Some(outcome.map(|()| path))
        })
        .collect();
    let mut sheets = Sheets::default();
    for outcome in outcomes {
        match outcome {
            Some(Ok(path)) => sheets.written.push(path),
            Some(Err(reason)) => sheets.failed.push(reason),
            None => sheets.cancelled = true,
        }
    }
    if is_new_folder && sheets.written.is_empty() {
        // A folder that holds something is not removed by this.
        let _ = std::fs::remove_dir(folder);
    }
    Ok(sheets)
}

fn write_one(sheet: &report::model::Report, path: &Path, replace: bool) -> Result<(), String> {
    if !replace && path.symlink_metadata().is_ok() {
        return Err(format!(
            "{}: exists already and is kept; choose another folder",
            path.display()
        ));
    }
    let at = |reason: String| format!("{}: {reason}", path.display());
    let bytes = report::pdf_bytes(sheet).map_err(at)?;
    atomic_file::write(path, &bytes).map_err(|error| {
        let reason = atomic_file::reason(&error);
        at(format!("cannot be written: {reason}"))
    })
}

/// A file name of its own for each sheet: the student's name, with a number
/// for those who handed in again.
pub fn file_names<'a>(students: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut taken = HashSet::new();
    let names = students.into_iter().map(|student| {
        let stem = file_stem(student);
        let mut name = stem.clone();
        let mut again = 1;
        while !taken.insert(name.to_lowercase()) {
            again += 1;
            name = format!("{stem}-{again}");
        }
        format!("{name}.pdf")
    });
    names.collect()
}

/// A name that every file system takes.
fn file_stem(student: &str) -> String {
    let kept: String = student
        .chars()
        .take(LONGEST_NAME)
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    let parts: Vec<&str> = kept.split('-').filter(|part| !part.is_empty()).collect();
    match parts.as_slice() {
        [] => "student".to_owned(),
        [one] if one.bytes().all(|b| b.is_ascii_digit()) => format!("student-{one}"),
        parts => parts.join("-"),
    }
}

#[cfg(test)]
mod tests {
    use super::file_stem;

    #[test]
    fn names_become_file_names_that_leave_no_folder() {
        for (name, stem) in [
            ("Zoë Müller", "Zoë-Müller"),
            ("../../etc/passwd", "etc-passwd"),
            ("a\\b:c*d?", "a-b-c-d"),
            ("...", "student"),
            ("", "student"),
            ("7", "student-7"),
        ] {
            assert_eq!(file_stem(name), stem);
        }
        assert_eq!(file_stem(&"x".repeat(500)).len(), 60);
    }
}
