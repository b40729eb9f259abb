//! Writing files so that a reader sees the old content or the new, never half.

use std::io::{self, Write};
use std::path::Path;
use std::time::Duration;

/// Name of a temporary file: between these stands what makes it unique.
const PREFIX: &str = ".lengthfilm-";
const SUFFIX: &str = ".part";

/// Age from which a temporary file that nobody holds was left behind by a
/// program that was killed: far longer than any write.
const ABANDONED_AFTER: Duration = Duration::from_secs(3600);

/// Writes `bytes` to `path` through a temporary file in the same folder:
/// write, sync, rename, sync the folder. On any error the old file is whole.
/// What earlier writes left in the folder when they were killed is removed.
///
/// # Errors
/// Whatever the operating system reports (no such folder, read-only, full).
pub fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut temporary = tempfile::Builder::new()
        .prefix(PREFIX)
        .suffix(SUFFIX)
        .permissions_like(path)
        .tempfile_in(folder)?;
    // Where files cannot be locked, age alone protects them.
    let _ = temporary.as_file().try_lock();
    temporary.write_all(bytes)?;
    temporary.as_file().sync_all()?;
    temporary.persist(path).map_err(|e| e.error)?;
    remove_abandoned(folder);
    sync_folder(folder)
}

/// The operating system's reason with what to do about the usual ones.
pub fn reason(error: &io::Error) -> String {
    use io::ErrorKind;
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            format!("no room left ({error}); free some space or choose another disk")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "the folder may not be written to; choose another".to_owned()
        }
        ErrorKind::NotFound => "its folder does not exist; make it first".to_owned(),
        ErrorKind::IsADirectory => "a folder has that name; choose another".to_owned(),
        _ => error.to_string(),
    }
}

/// Why a file could not be opened or read, with what to do about the usual reasons.
pub fn reading_reason(error: &io::Error) -> String {
    use io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "there is no such file; check its name".to_owned(),
        ErrorKind::PermissionDenied => {
            "no permission; check those of the file and its folder".to_owned()
        }
        ErrorKind::IsADirectory => "it is a folder; name a file".to_owned(),
        ErrorKind::InvalidData => "it is not text in UTF-8".to_owned(),
        ErrorKind::InvalidInput => error.to_string(),
        ErrorKind::FileTooLarge => format!("{error}: was another file meant?"),
        _ => format!("it cannot be read ({error})"),
    }
}

/// Removes temporary files that are old and not being written. What cannot be
/// removed stays: the file that was asked for is written.
fn remove_abandoned(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        if name.starts_with(PREFIX) && name.ends_with(SUFFIX) && is_abandoned(&entry) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

fn is_abandoned(entry: &std::fs::DirEntry) -> bool {
    // Not followed: a link of that name is not ours.
    let is_old = entry.metadata().is_ok_and(|metadata| {
        metadata.is_file()
            && metadata
                .modified()
                .is_ok_and(|at| at.elapsed().is_ok_and(|age| age > ABANDONED_AFTER))
    });
    is_old && std::fs::File::open(entry.path()).is_ok_and(|file| file.try_lock().is_ok())
}

/// Keeps the permissions of the file that is replaced; a new file gets the
/// ones an ordinary creation would.
trait PermissionsLike {
    fn permissions_like(&mut self, path: &Path) -> &mut Self;
}

impl PermissionsLike for tempfile::Builder<'_, '_> {
    #[cfg(unix)]
    fn permissions_like(&mut self, path: &Path) -> &mut Self {
        use std::os::unix::fs::PermissionsExt;
        let permissions = std::fs::metadata(path)
            .map(|m| m.permissions())
            .unwrap_or_else(|_| std::fs::Permissions::from_mode(0o644));
        self.permissions(permissions)
    }

    #[cfg(not(unix))]
    fn permissions_like(&mut self, _path: &Path) -> &mut Self {
        self
    }
}

/// Makes the rename itself durable; only Unix lets a folder be synced.
#[cfg(unix)]
fn sync_folder(folder: &Path) -> io::Result<()> {
    std::fs::File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::write;

    #[test]
    fn replaces_whole_and_leaves_no_remains() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.case.json");
        write(&path, b"first, and longer").unwrap();
        write(&path, b"second").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"second");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn only_what_was_left_behind_is_removed() {
        use std::time::{Duration, SystemTime};
        let folder = tempfile::tempdir().unwrap();
        let make = |name: &str, hours: u64| {
            let file = std::fs::File::create(folder.path().join(name)).unwrap();
            let made = SystemTime::now() - Duration::from_secs(3600 * hours);
            file.set_modified(made).unwrap();
            file
        };
        make(".lengthfilm-left.part", 2);
        make(".lengthfilm-recent.part", 0);
        make("notes.part", 2);
        let in_use = make(".lengthfilm-slow.part", 2);
        in_use.lock().unwrap();
        let there = || {
            let entries = std::fs::read_dir(folder.path()).unwrap();
            let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
            let mut names: Vec<String> = names.collect();
            names.sort();
            names
        };
        write(&folder.path().join("a"), b"x").unwrap();
        let kept = [
            ".lengthfilm-recent.part",
            ".lengthfilm-slow.part",
            "a",
            "notes.part",
        ];
        assert_eq!(there(), kept);
        drop(in_use);
        write(&folder.path().join("a"), b"x").unwrap();
        assert_eq!(there(), [".lengthfilm-recent.part", "a", "notes.part"]);
    }

    #[test]
    fn a_missing_folder_is_an_error_and_creates_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("absent").join("a.case.json");
        assert!(write(&path, b"x").is_err());
        assert!(!path.exists());
    }
}
