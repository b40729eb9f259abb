//! Writing files so that a reader sees the old content or the new, never half.

use std::io::{self, Write};
use std::path::Path;

/// Writes `bytes` to `path` through a temporary file in the same folder:
/// write, sync, rename, sync the folder. On any error the old file is whole.
///
/// # Errors
/// Whatever the operating system reports (no such folder, read-only, full).
pub fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut temporary = tempfile::Builder::new()
        .prefix(".lengthfilm-")
        .suffix(".part")
        .permissions_like(path)
        .tempfile_in(folder)?;
    temporary.write_all(bytes)?;
    temporary.as_file().sync_all()?;
    temporary.persist(path).map_err(|e| e.error)?;
    sync_folder(folder)
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
    fn a_missing_folder_is_an_error_and_creates_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("absent").join("a.case.json");
        assert!(write(&path, b"x").is_err());
        assert!(!path.exists());
    }
}
