//! `lengthfilm rubric [--out FILE]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_text};
use crate::atomic_file;
use crate::grading::rubric::Rubric;

#[derive(Debug, Args)]
pub struct StarterRubric {
    /// File to write instead of printing; nothing that exists is replaced.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

impl StarterRubric {
    /// Writes the built-in rubric, to be changed and given to `grade`.
    pub fn run(self) -> Result<(), CliError> {
        let text = Rubric::default().to_json();
        let Some(path) = self.out else {
            return print_text(&text);
        };
        if path.symlink_metadata().is_ok() {
            return Err(CliError::at(&path, "exists already and is kept"));
        }
        atomic_file::write(&path, text.as_bytes()).map_err(|error| {
            let reason = atomic_file::reason(&error);
            CliError::at(&path, format!("cannot be written: {reason}"))
        })
    }
}
