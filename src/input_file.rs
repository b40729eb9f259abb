//! Reading files that others made: regular files only, never more than was
//! allowed for.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// The whole file at `path`, of at most `most_bytes`.
///
/// Devices, pipes and sockets are refused before they are opened: they may
/// never end, or never begin. A file that grows while it is read is cut off at
/// the limit and refused.
///
/// # Errors
/// What the system reports; [`ErrorKind::InvalidInput`] for what is no regular
/// file and [`ErrorKind::FileTooLarge`] above the limit.
pub fn read(path: &Path, most_bytes: u64) -> io::Result<Vec<u8>> {
    let metadata = std::fs::metadata(path)?;
    if metadata.is_dir() {
        return Err(ErrorKind::IsADirectory.into());
    }
    if !metadata.is_file() {
        let reason = "it is no ordinary file (a device, pipe or socket); name a file";
        return Err(io::Error::new(ErrorKind::InvalidInput, reason));
    }
    let too_large = || {
        let reason = format!("it holds more than {most_bytes} bytes");
        io::Error::new(ErrorKind::FileTooLarge, reason)
    };
    if metadata.len() > most_bytes {
        return Err(too_large());
    }
    let mut bytes = Vec::with_capacity(metadata.len() as usize);
    File::open(path)?
        .take(most_bytes.saturating_add(1))
        .read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most_bytes {
        return Err(too_large());
    }
    Ok(bytes)
}

/// [`read`] for text in UTF-8.
///
/// # Errors
/// As [`read`], and [`ErrorKind::InvalidData`] for other text.
pub fn read_text(path: &Path, most_bytes: u64) -> io::Result<String> {
    String::from_utf8(read(path, most_bytes)?)
        .map_err(|e| io::Error::new(ErrorKind::InvalidData, e))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_regular_files_within_the_limit_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, b"four").unwrap();
        assert_eq!(read(&path, 4).unwrap(), b"four");
        assert_eq!(read(&path, 3).unwrap_err().kind(), ErrorKind::FileTooLarge);
        let kind = |path: &Path| read(path, 1 << 20).unwrap_err().kind();
        assert_eq!(kind(folder.path()), ErrorKind::IsADirectory);
        assert_eq!(kind(&folder.path().join("b")), ErrorKind::NotFound);
        std::fs::write(&path, [0xFF, 0xFE]).unwrap();
        let error = read_text(&path, 4).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::InvalidData);
    }

    #[cfg(unix)]
    #[test]
    fn devices_and_pipes_are_refused_at_once() {
        let kind = |path: &Path| read(path, 1 << 20).unwrap_err().kind();
        assert_eq!(kind(Path::new("/dev/zero")), ErrorKind::InvalidInput);
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        assert!(made.unwrap().success());
        assert_eq!(kind(&pipe), ErrorKind::InvalidInput);
    }
}
