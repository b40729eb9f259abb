//! Reading files that others made: regular files only, never more than was
//! allowed for, and not a moment longer than is wanted.

use std::fs::File;
use std::io::{self, ErrorKind, Read, Take};
use std::path::Path;
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread;

use crate::progress::{PATIENCE, Progress};

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
    let (mut file, size) = open(path, most_bytes)?;
    let mut bytes = Vec::with_capacity(size as usize);
    file.read_to_end(&mut bytes)?;
    within(bytes, most_bytes)
}

/// [`read`] that tells `progress` the bytes and is stopped by it within
/// [`PATIENCE`], also while the disk does not answer: the system is waited for
/// on a thread of its own, which is left behind.
///
/// # Errors
/// As [`read`], and [`ErrorKind::Interrupted`] around
/// [`Cancelled`](crate::progress::Cancelled) when the
/// caller asked to stop.
pub fn read_watched(path: &Path, most_bytes: u64, progress: &Progress) -> io::Result<Vec<u8>> {
    let path = path.to_owned();
    let opening = move || open(&path, most_bytes);
    within(gather(opening, progress)?, most_bytes)
}

/// Bytes that are read at a time.
const PIECE_BYTES: usize = 1 << 20;
/// Pieces that wait to be taken.
const PIECES: usize = 4;

/// What the reading thread has come to.
enum Piece {
    /// The file is open and says that it holds so many bytes.
    Opened(u64),
    Bytes(Vec<u8>),
    Failed(io::Error),
}

/// What `opening` opens, read on a thread of its own.
fn gather<R: Read + 'static>(
    opening: impl FnOnce() -> io::Result<(R, u64)> + Send + 'static,
    progress: &Progress,
) -> io::Result<Vec<u8>> {
    let (sender, pieces) = sync_channel(PIECES);
    thread::Builder::new()
        .name("reading".to_owned())
        .spawn(move || {
            // A receiver that has gone was told to stop.
            if let Err(error) = send_pieces(opening, &sender) {
                let _ = sender.send(Piece::Failed(error));
            }
        })?;
    let (mut bytes, mut size) = (Vec::new(), 0);
    loop {
        progress
            .check()
            .map_err(|stop| io::Error::new(ErrorKind::Interrupted, stop))?;
        match pieces.recv_timeout(PATIENCE) {
            Ok(Piece::Opened(of_file)) => {
                size = of_file as usize;
                bytes.reserve_exact(size);
            }
            Ok(Piece::Bytes(piece)) => {
                bytes.extend_from_slice(&piece);
                progress.report(bytes.len().min(size), size);
            }
            Ok(Piece::Failed(error)) => return Err(error),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return Ok(bytes),
        }
    }
}

fn send_pieces<R: Read>(
    opening: impl FnOnce() -> io::Result<(R, u64)>,
    sender: &SyncSender<Piece>,
) -> io::Result<()> {
    let (mut file, size) = opening()?;
    let mut is_heard = sender.send(Piece::Opened(size)).is_ok();
    while is_heard {
        let mut piece = Vec::with_capacity(PIECE_BYTES);
        file.by_ref()
            .take(PIECE_BYTES as u64)
            .read_to_end(&mut piece)?;
        if piece.is_empty() {
            break;
        }
        is_heard = sender.send(Piece::Bytes(piece)).is_ok();
    }
    Ok(())
}

/// A regular file cut off one byte after `most_bytes`, and its size.
fn open(path: &Path, most_bytes: u64) -> io::Result<(Take<File>, u64)> {
    let metadata = std::fs::metadata(path)?;
    if metadata.is_dir() {
        return Err(ErrorKind::IsADirectory.into());
    }
    if !metadata.is_file() {
        let reason = "it is no ordinary file (a device, pipe or socket); name a file";
        return Err(io::Error::new(ErrorKind::InvalidInput, reason));
    }
    if metadata.len() > most_bytes {
        return Err(too_large(most_bytes));
    }
    let file = File::open(path)?.take(most_bytes.saturating_add(1));
    Ok((file, metadata.len()))
}

fn within(bytes: Vec<u8>, most_bytes: u64) -> io::Result<Vec<u8>> {
    match bytes.len() as u64 > most_bytes {
        true => Err(too_large(most_bytes)),
        false => Ok(bytes),
    }
}

fn too_large(most_bytes: u64) -> io::Error {
    let reason = format!("it holds more than {most_bytes} bytes");
    io::Error::new(ErrorKind::FileTooLarge, reason)
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

    #[test]
    fn a_watched_read_gives_what_a_plain_one_gives() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let nobody = Progress::unwatched();
        for size in [0, 1, PIECE_BYTES, 3 * PIECE_BYTES + 7] {
            let wanted: Vec<u8> = (0..size).map(|at| (at % 251) as u8).collect();
            std::fs::write(&path, &wanted).unwrap();
            let most = size as u64;
            assert!(read_watched(&path, most, &nobody).unwrap() == wanted);
            if size > 0 {
                let error = read_watched(&path, most - 1, &nobody).unwrap_err();
                assert_eq!(error.kind(), ErrorKind::FileTooLarge);
            }
        }
        let kind = |path: &Path| read_watched(path, 9, &nobody).unwrap_err().kind();
        assert_eq!(kind(folder.path()), ErrorKind::IsADirectory);
        assert_eq!(kind(&folder.path().join("b")), ErrorKind::NotFound);
    }

    /// Gives a few bytes and then does not answer, as a network drive whose
    /// server has gone.
    struct Stalling {
        given: usize,
        wait: std::sync::mpsc::Receiver<()>,
    }

    impl Read for Stalling {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            if self.given == 0 {
                // Ends when the test does.
                let _ = self.wait.recv();
                return Ok(0);
            }
            let now = self.given.min(buffer.len());
            buffer[..now].fill(7);
            self.given -= now;
            Ok(now)
        }
    }

    #[test]
    fn a_read_that_stalls_is_stopped() {
        use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
        let (_still_there, wait) = std::sync::mpsc::channel();
        let given = 2 * PIECE_BYTES;
        let size = 3 * PIECE_BYTES;
        let (cancel, seen) = (AtomicBool::new(false), AtomicUsize::new(0));
        // Stopped once all that will ever come has come.
        let report = |done: usize, total: usize| {
            assert_eq!(total, size);
            seen.store(done, Ordering::Relaxed);
            cancel.store(done == given, Ordering::Relaxed);
        };
        let progress = Progress::new(&cancel, &report);
        let opening = move || Ok((Stalling { given, wait }, size as u64));
        let error = gather(opening, &progress).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::Interrupted);
        assert_eq!(error.to_string(), "stopped");
        assert_eq!(seen.into_inner(), given);
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
