//! Reading and writing case files, and finding the film a case names.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
#[cfg(unix)]
use std::time::Duration;

use serde_json::Value;
use thiserror::Error;

use super::{Case, FORMAT, VERSION};
use crate::atomic_file;
use crate::film::hex_digest;
use crate::input_file;

/// Largest case file read, bytes: far above any real case, so that a wrong
/// file is refused before it fills the memory.
pub const MAX_CASE_BYTES: u64 = 16 << 20;

/// How long another window's saving is waited for: a second.
#[cfg(unix)]
const LOCK_TRIES: u32 = 100;
#[cfg(unix)]
const LOCK_PAUSE: Duration = Duration::from_millis(10);

/// Why a case cannot be read, used or written. Each shows as one line that
/// says what, where and how to mend it.
#[derive(Debug, Error)]
pub enum CaseError {
    /// The operating system could not read the file.
    #[error("{path}: {}", atomic_file::reading_reason(.source))]
    Read {
        path: PathBuf,
        source: std::io::Error,
    },
    /// Too large to be a case.
    #[error("{path}: {bytes} bytes is too large for a case file; was another file meant?")]
    TooLarge { path: PathBuf, bytes: u64 },
    /// Not JSON.
    #[error("{path}: not valid JSON ({source}); restore it from a copy or correct that place")]
    NotJson {
        path: PathBuf,
        source: serde_json::Error,
    },
    /// Not text: a film, most likely.
    #[error(
        "{path}: not a case but a film or other data; open a film in the window and save a case, \
         or name a *.case.json file"
    )]
    NotText { path: PathBuf },
    /// JSON, but not a case.
    #[error(
        "{path}: not a case file (its \"format\" is not \"{FORMAT}\"); name a *.case.json file"
    )]
    NotACase { path: PathBuf },
    /// Written by a newer program.
    #[error(
        "{path}: case version {found} is newer than this program knows ({VERSION}); use a newer Lengthfilm"
    )]
    NewerVersion { path: PathBuf, found: u64 },
    /// Versions begin with 1.
    #[error("{path}: there is no case version 0; the present one is {VERSION}")]
    NoSuchVersion { path: PathBuf },
    /// A case whose values have the wrong shape.
    #[error("{path}: {source}; correct that key (docs/case.schema.json says what is expected)")]
    Shape {
        path: PathBuf,
        source: serde_json::Error,
    },
    /// The film file is not where the case says.
    #[error("{film}: the film named in {case} is missing; put it back or choose it anew")]
    FilmMissing { case: PathBuf, film: PathBuf },
    /// The film file is not the one the case was made on.
    #[error(
        "{film}: the film has changed since {case} was made (its SHA-256 differs); restore the film, or open it as a new case"
    )]
    FilmChanged { case: PathBuf, film: PathBuf },
    /// Another program or window has written the file since it was read.
    #[error("{path}: the file has changed since it was opened here; it is kept")]
    ChangedOnDisk { path: PathBuf },
    /// The operating system could not write the file; the old one is whole.
    #[error("{path}: cannot be written: {}; the file as it was is kept", atomic_file::reason(.source))]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
}

impl CaseError {
    /// The reason in words that name neither the case nor the film.
    pub fn without_names(&self) -> &'static str {
        match self {
            Self::Read { .. } => "the case file cannot be read",
            Self::TooLarge { .. } => "the file is too large for a case",
            Self::NotJson { .. } => "the case file is not valid JSON",
            Self::NotText { .. } => "the file is no case but a film or other data",
            Self::NotACase { .. } => "the file is no case",
            Self::NewerVersion { .. } => "the case was saved by a newer program",
            Self::NoSuchVersion { .. } => "the case's version is unknown",
            Self::Shape { .. } => "a value of the case has the wrong shape",
            Self::FilmMissing { .. } => "the case's film is missing",
            Self::FilmChanged { .. } => "the case's film has changed since the case was made",
            Self::ChangedOnDisk { .. } => "the case file has changed since it was opened",
            Self::Write { .. } => "the case file cannot be written",
        }
    }
}

/// Reads a case file.
///
/// # Errors
/// [`CaseError`], one line each; nothing is written.
pub fn load(path: &Path) -> Result<Case, CaseError> {
    parse(&read(path)?, path)
}

/// [`load`], with the SHA-256 of the file in lower-case hex.
///
/// # Errors
/// As [`load`].
pub fn load_with_hash(path: &Path) -> Result<(Case, String), CaseError> {
    let bytes = read(path)?;
    Ok((parse(&bytes, path)?, hex_digest(&bytes)))
}

fn read(path: &Path) -> Result<Vec<u8>, CaseError> {
    let read_error = |source| CaseError::Read {
        path: path.to_owned(),
        source,
    };
    let metadata = fs::metadata(path).map_err(read_error)?;
    let bytes = metadata.len();
    if metadata.is_file() && bytes > MAX_CASE_BYTES {
        return Err(CaseError::TooLarge {
            path: path.to_owned(),
            bytes,
        });
    }
    input_file::read(path, MAX_CASE_BYTES).map_err(read_error)
}

/// Parses the bytes of a case file; `path` is used in messages only.
///
/// # Errors
/// [`CaseError`] for anything that is not a case of a known version.
pub fn parse(bytes: &[u8], path: &Path) -> Result<Case, CaseError> {
    // Some editors begin UTF-8 files with a byte order mark (RFC 8259, 8.1).
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if std::str::from_utf8(bytes).is_err() {
        return Err(CaseError::NotText {
            path: path.to_owned(),
        });
    }
    let value: Value = serde_json::from_slice(bytes).map_err(|source| CaseError::NotJson {
        path: path.to_owned(),
        source,
    })?;
    if value.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(CaseError::NotACase {
            path: path.to_owned(),
        });
    }
    let version = value.get("version").and_then(Value::as_u64);
    if version == Some(0) {
        return Err(CaseError::NoSuchVersion {
            path: path.to_owned(),
        });
    }
    if let Some(found) = version
        && found > u64::from(VERSION)
    {
        return Err(CaseError::NewerVersion {
            path: path.to_owned(),
            found,
        });
    }
    // From the bytes again rather than from `value`: the message then names
    // the line and column.
    serde_json::from_slice(bytes).map_err(|source| CaseError::Shape {
        path: path.to_owned(),
        source,
    })
}

/// The case as it stands in a file.
pub fn to_json(case: &Case) -> String {
    let mut text = serde_json::to_string_pretty(case).expect("a case has string keys only");
    text.push('\n');
    text
}

/// Writes a case atomically.
///
/// # Errors
/// [`CaseError::Write`]; the old file is then whole.
pub fn save(case: &Case, path: &Path) -> Result<(), CaseError> {
    atomic_file::write(path, to_json(case).as_bytes()).map_err(|source| CaseError::Write {
        path: path.to_owned(),
        source,
    })
}

/// [`save`] where the file is still the one this work began with: it has the
/// SHA-256 `known`, or is not there. Returns the SHA-256 of the new file.
///
/// Where files can be locked, two that save by this at the same moment come one
/// after the other, and the second is refused.
///
/// # Errors
/// [`CaseError::ChangedOnDisk`]: somebody else's work is there and is kept;
/// else as [`save`].
pub fn save_over(case: &Case, path: &Path, known: Option<&str>) -> Result<String, CaseError> {
    let lock = locked(path);
    match input_file::read(path, MAX_CASE_BYTES) {
        Ok(there) if known == Some(hex_digest(&there).as_str()) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        // What cannot be read is no case of ours either.
        Ok(_) | Err(_) => {
            return Err(CaseError::ChangedOnDisk {
                path: path.to_owned(),
            });
        }
    }
    save(case, path)?;
    drop(lock);
    Ok(hex_digest(to_json(case).as_bytes()))
}

/// Writes a case beside the file at `path`, under the first free name
/// `NAME-2.case.json`, `NAME-3.case.json`, …; that name.
///
/// # Errors
/// [`CaseError::Write`].
pub fn save_beside(case: &Case, path: &Path) -> Result<PathBuf, CaseError> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let at = name.find(".case.").or_else(|| name.rfind('.'));
    let (stem, ending) = name.split_at(at.unwrap_or(name.len()));
    let mut number = 2;
    loop {
        let beside = path.with_file_name(format!("{stem}-{number}{ending}"));
        match atomic_file::write_new(&beside, to_json(case).as_bytes()) {
            Ok(()) => return Ok(beside),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => number += 1,
            Err(source) => {
                return Err(CaseError::Write {
                    path: beside,
                    source,
                });
            }
        }
    }
}

/// The file at `path` locked against others that save over it, if it is there
/// and can be locked soon. The lock ends with the handle.
#[cfg(unix)]
fn locked(path: &Path) -> Option<fs::File> {
    let file = fs::File::open(path).ok().filter(|_| path.is_file())?;
    for _ in 0..LOCK_TRIES {
        match file.try_lock() {
            Ok(()) => return Some(file),
            Err(fs::TryLockError::WouldBlock) => std::thread::sleep(LOCK_PAUSE),
            Err(fs::TryLockError::Error(_)) => return None,
        }
    }
    None
}

/// Elsewhere a lock would also keep this program from reading the file.
#[cfg(not(unix))]
fn locked(_path: &Path) -> Option<fs::File> {
    None
}

/// Where the film of a case is: relative paths start at the case's folder.
pub fn film_path(case: &Case, case_path: &Path) -> PathBuf {
    case_path
        .parent()
        .unwrap_or(Path::new("."))
        .join(&case.film.path)
}

/// [`film_path`], if there is a file.
///
/// # Errors
/// [`CaseError::FilmMissing`].
pub fn existing_film_path(case: &Case, case_path: &Path) -> Result<PathBuf, CaseError> {
    let film = film_path(case, case_path);
    if film.exists() {
        Ok(film)
    } else {
        Err(CaseError::FilmMissing {
            case: case_path.to_owned(),
            film,
        })
    }
}

/// Checks a film's hash against the case's, if it has one.
///
/// # Errors
/// [`CaseError::FilmChanged`].
pub fn check_film_hash(case: &Case, case_path: &Path, film_sha256: &str) -> Result<(), CaseError> {
    match &case.film.sha256 {
        Some(expected) if !expected.eq_ignore_ascii_case(film_sha256) => {
            Err(CaseError::FilmChanged {
                case: case_path.to_owned(),
                film: film_path(case, case_path),
            })
        }
        _ => Ok(()),
    }
}

/// Whether a path names a case and not a film: they are told apart by their
/// ending.
pub fn is_case_path(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("json"))
}
