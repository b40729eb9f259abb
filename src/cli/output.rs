//! Printing: JSON or text to standard output, one clear line per error.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use serde::Serialize;
use thiserror::Error;

use crate::atomic_file;
use crate::film::OpenedFilm;
use crate::one_line::{one_line, one_line_path};

/// Why a command did not do what was asked.
#[derive(Debug, Error)]
pub enum CliError {
    /// The input cannot be used: exit 1 with this line.
    #[error("{0}")]
    Input(String),
    /// Some of many inputs could not be used; each has had its line.
    #[error("{failed} of {total} could not be used")]
    Some { failed: usize, total: usize },
    /// The reader of standard output went away: no error.
    #[error("standard output closed")]
    Closed,
}

impl CliError {
    /// An error about the input, from anything that has a message.
    pub fn input(error: impl std::fmt::Display) -> Self {
        CliError::Input(error.to_string())
    }

    /// Success, or how many of all inputs failed.
    pub fn unless_all(failed: usize, total: usize) -> Result<(), Self> {
        match failed {
            0 => Ok(()),
            failed => Err(CliError::Some { failed, total }),
        }
    }

    /// An error about the file at `path`.
    pub fn at(path: &Path, error: impl std::fmt::Display) -> Self {
        CliError::Input(format!("{}: {error}", path.display()))
    }

    /// The file at `path` could not be read.
    pub fn unread(path: &Path, error: &io::Error) -> Self {
        Self::at(path, atomic_file::reading_reason(error))
    }
}

impl From<io::Error> for CliError {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            CliError::Closed
        } else {
            CliError::Input(format!("standard output: {error}"))
        }
    }
}

/// Prints text.
pub fn print_text(text: &str) -> Result<(), CliError> {
    print_bytes(text.as_bytes())
}

/// Prints bytes as they are.
pub fn print_bytes(bytes: &[u8]) -> Result<(), CliError> {
    let mut stdout = io::stdout().lock();
    stdout.write_all(bytes)?;
    Ok(stdout.flush()?)
}

/// Prints one JSON value, indented, with a final line feed.
pub fn print_json(value: &impl Serialize) -> Result<(), CliError> {
    let mut text = serde_json::to_string_pretty(value).map_err(CliError::input)?;
    text.push('\n');
    print_text(&text)
}

/// Prints the names of files that were written, a line each.
pub fn print_paths<'a>(paths: impl IntoIterator<Item = &'a PathBuf>) -> Result<(), CliError> {
    let lines = paths.into_iter().map(|path| one_line_path(path) + "\n");
    print_text(&lines.collect::<String>())
}

/// Prints one line to standard error. Nobody may be there to read it: the exit
/// code says it again.
pub fn report_error(error: &impl std::fmt::Display) {
    let text = error.to_string();
    let _ = writeln!(io::stderr(), "lengthfilm: {}", one_line(&text));
}

/// Says before an export that the pixels name somebody, where the film says so.
pub fn report_burned_in(film: &OpenedFilm) {
    let warnings = film.warnings.iter();
    for warning in warnings.filter(|warning| warning.code == "burned_in_annotation") {
        report_error(&format!("{}: {}", film.path.display(), warning.text));
    }
}

/// The exit code of an outcome, its message printed to standard error.
pub fn exit_code(outcome: Result<(), CliError>) -> ExitCode {
    match outcome {
        Ok(()) | Err(CliError::Closed) => ExitCode::SUCCESS,
        Err(error) => {
            report_error(&error);
            ExitCode::from(1)
        }
    }
}
