//! Folders and what is in them.

use std::ffi::OsString;
use std::fs;
use std::path::{Component, Path, PathBuf};
use std::time::SystemTime;

/// A kind of file that is shown, the others left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileKind {
    pub name: &'static str,
    /// Endings without the dot; none: every file.
    pub endings: &'static [&'static str],
}

/// Every file.
pub const ALL_FILES: FileKind = FileKind {
    name: "All files",
    endings: &[],
};

impl FileKind {
    pub(super) fn includes(self, name: &str) -> bool {
        let name = name.to_ascii_lowercase();
        let has = |ending: &&str| {
            name.strip_suffix(*ending)
                .is_some_and(|stem| stem.ends_with('.'))
        };
        self.endings.is_empty() || self.endings.iter().any(has)
    }
}

/// One entry of a folder.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// As it is shown.
    pub name: String,
    pub(super) file_name: OsString,
    pub is_folder: bool,
    pub bytes: u64,
    pub modified: Option<SystemTime>,
}

impl Entry {
    pub(super) fn is_hidden(&self) -> bool {
        self.name.starts_with('.')
    }
}

/// Folders worth offering: home, desktop, documents, and those of the files
/// opened lately.
pub fn places(recent: &[PathBuf]) -> Vec<(String, PathBuf)> {
    const OWN: [(&str, &str); 4] = [
        ("Home", ""),
        ("Desktop", "Desktop"),
        ("Documents", "Documents"),
        ("Downloads", "Downloads"),
    ];
    const MOST_RECENT: usize = 6;
    let of_home = |home: PathBuf| OWN.map(|(name, below)| (name.to_owned(), home.join(below)));
    let mut places: Vec<_> = home().into_iter().flat_map(of_home).collect();
    places.retain(|(_, folder)| folder.is_dir());
    let folders = recent.iter().filter_map(|path| path.parent());
    let mut kept = 0;
    for folder in folders {
        let known = places.iter().any(|(_, place)| place == folder);
        if !known && kept < MOST_RECENT && folder.is_dir() {
            let name = folder.file_name().unwrap_or(folder.as_os_str());
            places.push((name.to_string_lossy().into_owned(), folder.to_owned()));
            kept += 1;
        }
    }
    places
}

pub(super) fn home() -> Option<PathBuf> {
    std::env::home_dir().filter(|home| home.is_absolute())
}

pub(super) fn read_folder(folder: &Path) -> Result<Vec<Entry>, String> {
    let listed = fs::read_dir(folder).map_err(|error| {
        let reason = crate::atomic_file::reason(&error);
        format!("{} cannot be read: {reason}", folder.display())
    })?;
    let entry = |found: fs::DirEntry| {
        // Through links: a linked folder is a folder.
        let metadata = fs::metadata(found.path()).ok()?;
        Some(Entry {
            name: found.file_name().to_string_lossy().into_owned(),
            file_name: found.file_name(),
            is_folder: metadata.is_dir(),
            bytes: if metadata.is_dir() { 0 } else { metadata.len() },
            modified: metadata.modified().ok(),
        })
    };
    Ok(listed.flatten().filter_map(entry).collect())
}

/// `path` with `ending` (such as `case.json`), unless its last part is there.
pub fn with_ending(path: PathBuf, ending: &str) -> PathBuf {
    let last = ending.rsplit('.').next().unwrap_or(ending);
    let has_it = path
        .extension()
        .is_some_and(|found| found.eq_ignore_ascii_case(last));
    if has_it {
        return path;
    }
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".");
    name.push(ending);
    path.with_file_name(name)
}

/// Without `.` and `..`, as far as the names alone tell.
pub(super) fn without_dots(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}
