//! Copies of unsaved work that outlive a crash.
//!
//! Each running window writes its own copy and holds a lock beside it. A copy
//! whose lock is free was left behind.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::atomic_file;
use crate::case::Case;

/// Ending of a copy.
const COPY_ENDING: &str = "recovery.json";

/// Everything needed to go on where the window stopped.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Snapshot {
    pub case: Case,
    /// What the case file held.
    pub saved: Case,
    pub case_path: Option<PathBuf>,
    /// `None`: the built-in demo film.
    pub film_path: Option<PathBuf>,
}

/// A copy left behind.
#[derive(Clone, Debug, PartialEq)]
pub struct Leftover {
    pub snapshot: Snapshot,
    pub file: PathBuf,
}

/// This window's copy.
pub struct Recovery {
    folder: Option<PathBuf>,
    copy: PathBuf,
    lock: Option<File>,
}

impl Recovery {
    /// Keeps copies in `folder`, or none at all.
    pub fn new(folder: Option<PathBuf>) -> Self {
        let stem = unique_stem();
        let usable = folder.filter(|folder| fs::create_dir_all(folder).is_ok());
        let (copy, lock) = match &usable {
            Some(folder) => {
                let copy = folder.join(format!("{stem}.{COPY_ENDING}"));
                let lock = File::create(lock_of(&copy))
                    .ok()
                    .filter(|lock| lock.try_lock().is_ok());
                (copy, lock)
            }
            None => (PathBuf::new(), None),
        };
        Self {
            folder: usable,
            copy,
            lock,
        }
    }

    /// The oldest copy that another window left behind.
    pub fn leftover(&self) -> Option<Leftover> {
        let mut copies: Vec<PathBuf> = fs::read_dir(self.folder.as_ref()?)
            .ok()?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.to_string_lossy().ends_with(COPY_ENDING) && path != &self.copy)
            .collect();
        copies.sort();
        copies.into_iter().find_map(|file| {
            let abandoned = File::open(lock_of(&file)).map_or(true, |lock| lock.try_lock().is_ok());
            if !abandoned {
                return None;
            }
            let snapshot = serde_json::from_slice(&fs::read(&file).ok()?).ok()?;
            Some(Leftover { snapshot, file })
        })
    }

    /// Where this window's copy is written, if it is.
    pub fn copy_path(&self) -> Option<PathBuf> {
        self.lock.as_ref().map(|_| self.copy.clone())
    }

    /// Nothing unsaved is left: the copy goes.
    pub fn clear(&self) {
        if self.lock.is_some() {
            // It may never have been written.
            let _ = fs::remove_file(&self.copy);
        }
    }
}

impl Drop for Recovery {
    fn drop(&mut self) {
        if self.lock.take().is_some() && !self.copy.exists() {
            let _ = fs::remove_file(lock_of(&self.copy));
        }
    }
}

/// Writes a copy.
///
/// # Errors
/// In plain words.
pub fn write_copy(path: &Path, snapshot: &Snapshot) -> Result<(), String> {
    let bytes = serde_json::to_vec(snapshot).map_err(|error| error.to_string())?;
    atomic_file::write(path, &bytes)
        .map_err(|error| format!("{}: recovery copy not written: {error}", path.display()))
}

/// Takes a copy away once it was restored or refused.
pub fn discard(leftover: &Leftover) {
    // Gone already is as good.
    let _ = fs::remove_file(&leftover.file);
    let _ = fs::remove_file(lock_of(&leftover.file));
}

fn lock_of(copy: &Path) -> PathBuf {
    copy.with_extension("lock")
}

/// Unique among windows, also within one process, and in order of time.
fn unique_stem() -> String {
    use std::sync::atomic::{AtomicU32, Ordering};
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let seconds = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |since| since.as_secs());
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    format!("{seconds}-{}-{count}", std::process::id())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desktop::engine::fresh_case;

    fn snapshot() -> Snapshot {
        Snapshot {
            case: fresh_case("a.png"),
            saved: fresh_case("a.png"),
            case_path: Some("a.case.json".into()),
            film_path: Some("a.png".into()),
        }
    }

    #[test]
    fn a_copy_is_found_only_after_its_window_has_gone() {
        let folder = tempfile::tempdir().expect("a folder");
        let crashed = Recovery::new(Some(folder.path().to_owned()));
        let copy = crashed.copy_path().expect("folder is usable");
        write_copy(&copy, &snapshot()).expect("writes");
        let next = Recovery::new(Some(folder.path().to_owned()));
        assert_eq!(next.leftover(), None, "its window still runs");
        drop(crashed);
        let found = next.leftover().expect("left behind");
        assert_eq!(found.snapshot, snapshot());
        discard(&found);
        assert_eq!(next.leftover(), None);
    }

    #[test]
    fn a_damaged_copy_is_passed_over() {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join("1-1-1.recovery.json"), b"{").expect("writes");
        let recovery = Recovery::new(Some(folder.path().to_owned()));
        assert_eq!(recovery.leftover(), None);
    }
}
