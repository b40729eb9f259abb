//! `lengthfilm block --seed N --out FOLDER [--shaping KIND] [--geometry KIND] [--json]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::output::{CliError, print_json, print_paths};
use crate::phantom::block::{self, BlockGeometry, BlockSpec, ShapingKind};

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Geometry {
    Recurved,
    SShaped,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Shaping {
    Centred,
    Outer,
    Inner,
    Zip,
    Ledge,
    Perforation,
}

#[derive(Debug, Args)]
pub struct Block {
    /// Seed everything is drawn from.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Course of the canal; absent: drawn.
    #[arg(long, value_enum)]
    geometry: Option<Geometry>,
    /// What the preparation did; absent: drawn.
    #[arg(long, value_enum)]
    shaping: Option<Shaping>,
    /// Folder to write into; made if need be. What an earlier run left there is
    /// replaced.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// Print the names of the files as JSON.
    #[arg(long)]
    json: bool,
}

impl Block {
    /// Photographs a synthetic block before and after shaping.
    pub fn run(self) -> Result<(), CliError> {
        let mut spec = BlockSpec::random(self.seed);
        if let Some(geometry) = self.geometry {
            spec.geometry = match geometry {
                Geometry::Recurved => BlockGeometry::Recurved,
                Geometry::SShaped => BlockGeometry::SShaped,
            };
        }
        if let Some(shaping) = self.shaping {
            spec.shaping = match shaping {
                Shaping::Centred => ShapingKind::Centred,
                Shaping::Outer => ShapingKind::Outer,
                Shaping::Inner => ShapingKind::Inner,
                Shaping::Zip => ShapingKind::Zip,
                Shaping::Ledge => ShapingKind::Ledge,
                Shaping::Perforation => ShapingKind::Perforation,
            };
        }
        let files = block::write(&spec, &self.out).map_err(CliError::input)?;
        if self.json {
            return print_json(&json!({
                "before": files.before, "after": files.after, "truth": files.truth,
            }));
        }
        print_paths([&files.before, &files.after, &files.truth])
    }
}
