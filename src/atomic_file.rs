//! Writing files so that a reader sees the old content or the new, never half.

use std::fs::Metadata;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Name of a temporary file: between these stands what makes it unique.
const PREFIX: &str = ".lengthfilm-";
const SUFFIX: &str = ".part";

/// Age from which a temporary file that nobody holds was left behind by a
/// program that was killed. A file is locked as soon as it is made.
const ABANDONED_AFTER: Duration = Duration::from_secs(60);

/// Most links followed from one name to the file it means.
const MOST_LINKS: usize = 40;

/// Writes `bytes` to `path` through a temporary file in the same folder:
/// write, sync, rename, sync the folder. On any error the old file is whole.
/// A link is kept and the file it names is written. A file that is replaced
/// keeps its permissions; a new one gets those that the umask leaves it. What
/// earlier writes left in the folder when they were killed is removed.
///
/// # Errors
/// Whatever the operating system reports (no such folder, full), and
/// [`io::ErrorKind::PermissionDenied`] for a file that is read-only: it is not
/// replaced, even where its folder would allow it.
pub fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let target = behind_links(path)?;
    let replaced = replaceable(&target)?;
    let folder = folder_of(&target);
    let temporary = temporary_file(folder, bytes)?;
    if let Some(metadata) = replaced {
        temporary
            .as_file()
            .set_permissions(metadata.permissions())?;
    }
    temporary.persist(&target).map_err(|e| e.error)?;
    remove_abandoned(folder);
    sync_folder(folder)
}

/// [`write()`] for a file that must not be there yet.
///
/// # Errors
/// As [`write()`], and [`io::ErrorKind::AlreadyExists`].
pub fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = folder_of(path);
    let temporary = temporary_file(folder, bytes)?;
    temporary.persist_noclobber(path).map_err(|e| e.error)?;
    remove_abandoned(folder);
    sync_folder(folder)
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// A locked temporary file in `folder` that holds `bytes`, on the disk.
fn temporary_file(folder: &Path, bytes: &[u8]) -> io::Result<tempfile::NamedTempFile> {
    let mut temporary = tempfile::Builder::new()
        .prefix(PREFIX)
        .suffix(SUFFIX)
        .permissions_of_new_files()
        .tempfile_in(folder)?;
    // Where files cannot be locked, nobody removes them for being abandoned.
    let _ = temporary.as_file().try_lock();
    temporary.write_all(bytes)?;
    temporary.as_file().sync_all()?;
    Ok(temporary)
}

/// The file that `path` means once every link is followed; it need not exist.
fn behind_links(path: &Path) -> io::Result<PathBuf> {
    let mut target = path.to_owned();
    for _ in 0..MOST_LINKS {
        match std::fs::read_link(&target) {
            Ok(next) => target = folder_of(&target).join(next),
            Err(_) => return Ok(target),
        }
    }
    Err(refused(
        io::ErrorKind::InvalidInput,
        "its links lead in a circle; name the file itself",
    ))
}

/// What is known of the file that is to be replaced; `None` where there is
/// none.
fn replaceable(target: &Path) -> io::Result<Option<Metadata>> {
    let metadata = match std::fs::symlink_metadata(target) {
        Ok(metadata) => metadata,
        // The folder is looked at when the temporary file is made in it.
        Err(_) => return Ok(None),
    };
    if metadata.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !metadata.is_file() {
        return Err(refused(
            io::ErrorKind::InvalidInput,
            "no ordinary file has that name (a device, pipe or socket); choose another",
        ));
    }
    let read_only = || {
        refused(
            io::ErrorKind::PermissionDenied,
            "the file is read-only; choose another name, or allow writing it",
        )
    };
    if metadata.permissions().readonly() {
        return Err(read_only());
    }
    let opened = std::fs::OpenOptions::new().write(true).open(target);
    opened.map_err(|error| match error.kind() {
        io::ErrorKind::PermissionDenied => read_only(),
        _ => error,
    })?;
    Ok(Some(metadata))
}

/// Why this program, not the system, does not write a file.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
struct Refused(&'static str);

fn refused(kind: io::ErrorKind, why: &'static str) -> io::Error {
    io::Error::new(kind, Refused(why))
}

/// The operating system's reason with what to do about the usual ones.
pub fn reason(error: &io::Error) -> String {
    use io::ErrorKind;
    match error.kind() {
        _ if error.get_ref().is_some_and(|why| why.is::<Refused>()) => error.to_string(),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            format!("no room left ({error}); free some space or choose another disk")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "the folder may not be written to; choose another".to_owned()
        }
        ErrorKind::NotFound => "its folder does not exist; make it first".to_owned(),
        ErrorKind::IsADirectory => "a folder has that name; choose another".to_owned(),
        ErrorKind::AlreadyExists => "it exists already and is kept; choose another name".to_owned(),
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

/// A new file may be read and written as the umask leaves it, not by its owner
/// alone as temporary files usually are.
trait PermissionsOfNewFiles {
    fn permissions_of_new_files(&mut self) -> &mut Self;
}

impl PermissionsOfNewFiles for tempfile::Builder<'_, '_> {
    #[cfg(unix)]
    fn permissions_of_new_files(&mut self) -> &mut Self {
        use std::os::unix::fs::PermissionsExt;
        self.permissions(std::fs::Permissions::from_mode(0o666))
    }

    #[cfg(not(unix))]
    fn permissions_of_new_files(&mut self) -> &mut Self {
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
    use super::{write, write_new};

    #[cfg(unix)]
    #[test]
    fn links_modes_and_read_only_files_are_respected() {
        use std::io::ErrorKind;
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let mode = |name: &str| std::fs::metadata(at(name)).unwrap().permissions().mode() & 0o777;
        let set = |name: &str, mode| {
            std::fs::set_permissions(at(name), std::fs::Permissions::from_mode(mode)).unwrap();
        };
        std::fs::create_dir(at("elsewhere")).unwrap();
        std::fs::write(at("elsewhere/a"), b"old").unwrap();
        set("elsewhere/a", 0o620);
        symlink("elsewhere/a", at("first")).unwrap();
        symlink("first", at("second")).unwrap();
        write(&at("second"), b"new").unwrap();
        assert_eq!(std::fs::read(at("elsewhere/a")).unwrap(), b"new");
        assert_eq!(mode("elsewhere/a"), 0o620);
        assert!(at("second").is_symlink() && at("first").is_symlink());
        // A link to nothing yet makes what it names.
        symlink("elsewhere/b", at("third")).unwrap();
        write(&at("third"), b"made").unwrap();
        assert_eq!(std::fs::read(at("elsewhere/b")).unwrap(), b"made");
        // A new file is as the umask has it: like one made the usual way.
        std::fs::write(at("usual"), b"").unwrap();
        write(&at("new"), b"").unwrap();
        assert_eq!(mode("new"), mode("usual"));
        set("new", 0o444);
        let refused = write(&at("new"), b"x").unwrap_err();
        assert_eq!(refused.kind(), ErrorKind::PermissionDenied);
        assert!(super::reason(&refused).contains("read-only"), "{refused}");
        assert_eq!(std::fs::read(at("new")).unwrap(), b"");
        symlink("circle", at("circle")).unwrap();
        assert!(write(&at("circle"), b"x").is_err());
        let device = write(std::path::Path::new("/dev/full"), b"x").unwrap_err();
        assert_eq!(device.kind(), ErrorKind::InvalidInput);
        let taken = write_new(&at("usual"), b"x").unwrap_err();
        assert_eq!(taken.kind(), ErrorKind::AlreadyExists);
    }

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
        let make = |name: &str, minutes: u64| {
            let file = std::fs::File::create(folder.path().join(name)).unwrap();
            let made = SystemTime::now() - Duration::from_secs(60 * minutes);
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
