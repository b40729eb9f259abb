//! Hand-ins as they are collected: files, folders, folders in folders.

use std::collections::{HashMap, HashSet};
use std::fs;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::private::PrivateText;
use super::submission::{Submission, file_stem, film_name};
use crate::progress::{Cancelled, Progress};

/// Why hand-ins cannot be collected: one clear line.
#[derive(Debug, Error)]
pub enum CollectError {
    /// A folder cannot be read, or there is nothing to grade in it.
    #[error("{}: {reason}", path.display())]
    Folder { path: PathBuf, reason: String },
    /// Somebody asked to stop.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// Ending of the files taken from a folder.
pub const CASE_ENDING: &str = ".case.json";
/// Folders in folders are looked through this deep.
const DEEPEST: usize = 16;

/// A case file with what its place says of the student.
#[derive(Clone, Debug, PartialEq)]
pub struct HandIn {
    /// The case file.
    pub path: PathBuf,
    /// Name of the folder, below the one that was named, that it came in.
    pub folder: Option<String>,
    /// A file of this name came in another folder too.
    pub is_common_name: bool,
}

/// Everything found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Collected {
    /// Each file once, those of a folder by name.
    pub files: Vec<HandIn>,
    /// Names of folders without any case: somebody's hand-in is empty.
    pub empty: Vec<String>,
}

impl HandIn {
    /// Reads the case; the student is who the case says, else the folder it
    /// came in where the file's own name says nobody, else the file's name.
    ///
    /// # Errors
    /// One clear line; "stopped" when `progress` was told to stop.
    pub fn read(&self, progress: &Progress) -> Result<Submission, PrivateText> {
        let mut submission = Submission::read(&self.path, progress)?;
        let stated = submission.case.student.as_ref();
        if stated.and_then(|student| student.given_name()).is_none() {
            let film = film_name(&submission.case.film.path);
            let is_film = file_stem(&self.path) == film.split('.').next().unwrap_or(film);
            submission.student = self.student(is_film);
        }
        Ok(submission)
    }

    /// The student by the file's place alone. `is_film`: the case is named
    /// after its film.
    pub fn student(&self, is_film: bool) -> String {
        match &self.folder {
            Some(folder) if is_film || self.is_common_name => folder.clone(),
            _ => file_stem(&self.path),
        }
    }
}

/// The case files named or found in the folders named, at any depth, each
/// once, without those of the reference found in a folder.
///
/// # Errors
/// [`CollectError`]: a folder cannot be read, there is no case at all, or
/// `progress` was told to stop.
pub fn collect(
    traces: &[PathBuf],
    reference: &[PathBuf],
    progress: &Progress,
) -> Result<Collected, CollectError> {
    let (traces, reference) = (traces.to_vec(), reference.to_vec());
    progress.wait_for(move || find(&traces, &reference))?
}

fn find(traces: &[PathBuf], reference: &[PathBuf]) -> Result<Collected, CollectError> {
    let references: HashSet<PathBuf> = reference.iter().map(|path| real(path)).collect();
    let mut seen = HashSet::new();
    let mut found = Collected::default();
    for path in traces {
        if !path.is_dir() {
            if seen.insert(real(path)) {
                found.files.push(HandIn {
                    path: path.clone(),
                    folder: None,
                    is_common_name: false,
                });
            }
            continue;
        }
        let mut own = of_folder(path)?;
        own.files.retain(|hand_in| {
            let real = real(&hand_in.path);
            !references.contains(&real) && seen.insert(real)
        });
        if own.files.is_empty() && own.empty.is_empty() {
            own.empty.push(name(path));
        }
        found.files.extend(own.files);
        found.empty.extend(own.empty);
    }
    if found.files.is_empty()
        && let Some(path) = traces.iter().find(|path| path.is_dir())
    {
        return Err(CollectError::Folder {
            path: path.clone(),
            reason: format!("no *{CASE_ENDING} to grade in this folder"),
        });
    }
    mark_common_names(&mut found.files);
    Ok(found)
}

fn real(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}

fn name(path: &Path) -> String {
    let real = real(path);
    real.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Files whose name came in more than one folder.
fn mark_common_names(files: &mut [HandIn]) {
    let mut folders: HashMap<String, HashSet<Option<String>>> = HashMap::new();
    for file in files.iter() {
        let own = folders.entry(file_stem(&file.path)).or_default();
        own.insert(file.folder.clone());
    }
    for file in files {
        let own = folders.get(&file_stem(&file.path));
        file.is_common_name = own.is_some_and(|folders| folders.len() > 1);
    }
}

/// Entries of a folder, by name, without what systems leave behind.
fn entries(folder: &Path) -> Result<Vec<PathBuf>, CollectError> {
    let fault = |e: std::io::Error| CollectError::Folder {
        path: folder.to_owned(),
        reason: e.to_string(),
    };
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(fault)? {
        let path = entry.map_err(fault)?.path();
        let name = name_of_entry(&path);
        if !name.starts_with('.') && name != "__MACOSX" {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

fn name_of_entry(path: &Path) -> String {
    path.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}

fn is_case(path: &Path) -> bool {
    name_of_entry(path).to_lowercase().ends_with(CASE_ENDING)
}

fn of_folder(folder: &Path) -> Result<Collected, CollectError> {
    // A folder that holds nothing but one folder is its wrapping.
    let mut root = folder.to_owned();
    for _ in 0..DEEPEST {
        match entries(&root)?.as_slice() {
            [only] if only.is_dir() => root.clone_from(only),
            _ => break,
        }
    }
    let mut found = Collected::default();
    let mut visited = HashSet::from([real(&root)]);
    for entry in entries(&root)? {
        if !entry.is_dir() {
            if is_case(&entry) {
                found.files.push(HandIn {
                    path: entry,
                    folder: None,
                    is_common_name: false,
                });
            }
            continue;
        }
        let own_name = name_of_entry(&entry);
        let mut cases = Vec::new();
        below(&entry, DEEPEST, &mut visited, &mut cases)?;
        if cases.is_empty() {
            found.empty.push(own_name);
            continue;
        }
        found.files.extend(cases.into_iter().map(|path| HandIn {
            path,
            folder: Some(own_name.clone()),
            is_common_name: false,
        }));
    }
    Ok(found)
}

fn below(
    folder: &Path,
    depth: usize,
    visited: &mut HashSet<PathBuf>,
    cases: &mut Vec<PathBuf>,
) -> Result<(), CollectError> {
    // A link that leads back would never end.
    if depth == 0 || !visited.insert(real(folder)) {
        return Ok(());
    }
    for entry in entries(folder)? {
        if entry.is_dir() {
            below(&entry, depth - 1, visited, cases)?;
        } else if is_case(&entry) {
            cases.push(entry);
        }
    }
    Ok(())
}
