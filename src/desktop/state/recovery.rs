//! Copies of unsaved work that outlive a crash.
//!
//! Each running window writes its own copy and holds a lock beside it. A copy
//! whose lock is free was left behind.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use chrono::{DateTime, Local};
use serde::{Deserialize, Serialize};

use crate::atomic_file;
use crate::case::Case;
use crate::input_file;

/// Ending of a copy.
const COPY_ENDING: &str = "recovery.json";
/// Ending of the lock beside it.
const LOCK_ENDING: &str = "recovery.lock";
/// Age from which a free lock without a copy has no use.
const STALE_AFTER: Duration = Duration::from_secs(60);
/// Largest copy read, bytes: two cases of the largest size, written densely.
const MAX_COPY_BYTES: u64 = 32 << 20;

/// Everything needed to go on where the window stopped.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Snapshot {
    pub case: Case,
    /// What the case file held.
    pub saved: Case,
    pub case_path: Option<PathBuf>,
    /// SHA-256 of the case file.
    #[serde(default)]
    pub case_sha256: Option<String>,
    /// `None`: the built-in demo film.
    pub film_path: Option<PathBuf>,
}

/// A copy left behind.
#[derive(Clone, Debug, PartialEq)]
pub struct Leftover {
    pub snapshot: Snapshot,
    pub file: PathBuf,
    /// When it was last kept.
    pub kept_at: Option<SystemTime>,
}

impl Leftover {
    /// Its film, its case file and when it was kept.
    pub fn words(&self) -> String {
        let name = |path: &PathBuf| {
            let name = path.file_name().unwrap_or(path.as_os_str());
            name.to_string_lossy().into_owned()
        };
        let snapshot = &self.snapshot;
        let film = snapshot.film_path.as_ref().map(name);
        let film = film.unwrap_or_else(|| "the demo film".to_owned());
        let case = snapshot.case_path.as_ref().map(name);
        let case = case.map_or_else(|| "not saved yet".to_owned(), |case| format!("case {case}"));
        let kept = self.kept_at.map(|at| {
            let at: DateTime<Local> = at.into();
            format!(", kept {}", at.format("%Y-%m-%d %H:%M"))
        });
        format!("Film {film}, {case}{}", kept.unwrap_or_default())
    }
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
        if let Some(folder) = &usable {
            remove_stale_locks(folder);
        }
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
            let snapshot =
                serde_json::from_slice(&input_file::read(&file, MAX_COPY_BYTES).ok()?).ok()?;
            let kept_at = fs::metadata(&file).and_then(|file| file.modified()).ok();
            Some(Leftover {
                snapshot,
                file,
                kept_at,
            })
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

/// Removes locks that a killed window left without a copy.
fn remove_stale_locks(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        let is_lock = path.to_string_lossy().ends_with(LOCK_ENDING);
        // A window that starts at this moment has yet to take its lock.
        let is_old = || {
            let made = entry.metadata().and_then(|metadata| metadata.modified());
            made.is_ok_and(|at| at.elapsed().is_ok_and(|age| age > STALE_AFTER))
        };
        let is_free = || File::open(&path).is_ok_and(|lock| lock.try_lock().is_ok());
        if is_lock && !path.with_extension("json").exists() && is_old() && is_free() {
            let _ = fs::remove_file(&path);
        }
    }
}

/// Writes a copy.
///
/// # Errors
/// In plain words.
pub fn write_copy(path: &Path, snapshot: &Snapshot) -> Result<(), String> {
    let bytes = serde_json::to_vec(snapshot).map_err(|error| error.to_string())?;
    atomic_file::write(path, &bytes).map_err(|error| {
        let reason = atomic_file::reason(&error);
        format!("{}: recovery copy not written: {reason}", path.display())
    })
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
    use crate::case::edit::new_case;

    fn snapshot() -> Snapshot {
        Snapshot {
            case: new_case("a.png"),
            saved: new_case("a.png"),
            case_path: Some("a.case.json".into()),
            case_sha256: None,
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

    /// Environment of a child: the folder it keeps its copies in.
    const CHILD_FOLDER: &str = "LENGTHFILM_TEST_FOLDER";
    const KILLS: u32 = 200;

    /// 200 times, a window that edits, keeps copies and saves now and then is
    /// killed at a random moment. What it reported is there: in the copy left
    /// behind or, saved since, in the case file.
    #[test]
    fn nothing_kept_is_lost_to_200_kills() {
        use rand::{RngExt, SeedableRng};
        use std::io::{BufRead, BufReader};
        use std::process::{Command, Stdio};
        let folder = tempfile::tempdir().expect("a folder");
        let case_path = folder.path().join("a.case.json");
        crate::case::save(&new_case("a.png"), &case_path).expect("saves");
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        let (mut copies_found, mut saved_only) = (0, 0);
        for kill in 0..KILLS {
            let mut child = Command::new(std::env::current_exe().expect("this program"))
                .args(["--ignored", "--exact", "--nocapture"])
                .arg("desktop::state::recovery::tests::child_edits_for_ever")
                .env(CHILD_FOLDER, folder.path())
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn()
                .expect("runs");
            let stdout = child.stdout.take().expect("piped");
            let mut kept = BufReader::new(stdout)
                .lines()
                .map_while(Result::ok)
                .filter_map(|line| line.rsplit_once("kept ")?.1.trim().parse::<u64>().ok());
            // Killed once it is busy, anywhere in what it does in turn.
            let mut reported = 0;
            for _ in 0..random.random_range(1..=6) {
                reported = kept.next().expect("the child keeps copies");
            }
            std::thread::sleep(std::time::Duration::from_micros(
                random.random_range(0..6_000),
            ));
            child.kill().expect("killed");
            child.wait().expect("gone");
            let reported = kept.last().unwrap_or(reported);

            let next = Recovery::new(Some(folder.path().to_owned()));
            let saved = crate::case::load(&case_path)
                .expect("the case file is whole")
                .seed;
            let newest = match next.leftover() {
                Some(leftover) => {
                    copies_found += 1;
                    discard(&leftover);
                    leftover.snapshot.case.seed.max(saved)
                }
                None => {
                    saved_only += 1;
                    saved
                }
            };
            assert!(
                newest == reported || newest == reported + 1,
                "kill {kill}: {reported} was kept, {newest} is there"
            );
            assert_eq!(next.leftover(), None, "one copy per window");
        }
        println!("{copies_found} copies left behind, {saved_only} times the case file was newer");
        assert!(copies_found > 0 && saved_only > 0, "kills fell everywhere");
    }

    /// The child of the test above, at most a minute.
    #[test]
    #[ignore = "run by another test"]
    fn child_edits_for_ever() {
        use std::io::Write;
        let folder = PathBuf::from(std::env::var_os(CHILD_FOLDER).expect("run by another test"));
        let case_path = folder.join("a.case.json");
        let recovery = Recovery::new(Some(folder));
        let copy = recovery.copy_path().expect("the folder is usable");
        let mut snapshot = snapshot();
        snapshot.case = crate::case::load(&case_path).expect("the case file is whole");
        let start = std::time::Instant::now();
        let mut stdout = std::io::stdout();
        while start.elapsed() < std::time::Duration::from_secs(60) {
            snapshot.case.seed += 1;
            if snapshot.case.seed.is_multiple_of(3) {
                // As the window does: the copy goes after the file is written.
                crate::case::save(&snapshot.case, &case_path).expect("saves");
                recovery.clear();
            } else {
                write_copy(&copy, &snapshot).expect("writes");
            }
            writeln!(stdout, "kept {}", snapshot.case.seed).expect("heard");
            stdout.flush().expect("heard");
        }
    }
}
