//! `lengthfilm phantom --seed N --out FOLDER [--kind KIND] [--spec FILE] [--json]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::output::{CliError, print_json, print_paths};
use crate::input_file;
use crate::phantom::{self, CanalKind, PhantomSpec};

/// Kinds of canal, as written on the command line.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Kind {
    Single,
    SShaped,
    NearlyStraight,
    LateBend,
}

impl From<Kind> for CanalKind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Single => CanalKind::Single,
            Kind::SShaped => CanalKind::SShaped,
            Kind::NearlyStraight => CanalKind::NearlyStraight,
            Kind::LateBend => CanalKind::LateBend,
        }
    }
}

#[derive(Debug, Args)]
pub struct Phantom {
    /// Seed everything is drawn from; the same seed gives the same film.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Kind of canal.
    #[arg(long, value_enum, default_value_t = Kind::Single)]
    kind: Kind,
    /// Description to render instead of a random one: JSON as in truth.json
    /// under "spec".
    #[arg(long, value_name = "FILE")]
    spec: Option<PathBuf>,
    /// Folder to write into; made if need be. A film, truth and case that an
    /// earlier run left there are replaced.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// Print the names of the files as JSON.
    #[arg(long)]
    json: bool,
}

/// Largest specification read, bytes.
const MAX_SPEC_BYTES: u64 = 1 << 20;

impl Phantom {
    /// Renders the film and writes it with its truth and a case.
    pub fn run(self) -> Result<(), CliError> {
        let spec = match &self.spec {
            None => PhantomSpec::random(self.kind.into(), self.seed),
            Some(path) => {
                let bytes = input_file::read(path, MAX_SPEC_BYTES)
                    .map_err(|e| CliError::unread(path, &e))?;
                serde_json::from_slice(&bytes).map_err(|e| CliError::at(path, e))?
            }
        };
        let files = phantom::write(&spec, &self.out).map_err(CliError::input)?;
        let named = [
            ("film_png", &files.png),
            ("film_dicom", &files.dicom),
            ("truth", &files.truth),
            ("case", &files.case),
        ];
        if self.json {
            let names = named
                .iter()
                .map(|(key, path)| ((*key).to_owned(), json!(path)));
            return print_json(&names.collect::<serde_json::Map<_, _>>());
        }
        print_paths(named.map(|(_, path)| path))
    }
}
