//! `lengthfilm block --seed N --out FOLDER [--shaping KIND] [--geometry KIND]
//! [--look SET [--parts PART,…]] [--json]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::output::{CliError, print_json, print_paths};
use crate::phantom::Families;
use crate::phantom::block::{self, BlockGeometry, BlockSpec, Look, LookPart, ShapingKind};

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Geometry {
    Recurved,
    SShaped,
    Hooked,
    LongCurve,
}

/// Sets of looks.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum LookSet {
    Tuning,
    Test,
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

/// A part of a look, by its word.
#[derive(Clone, Copy, Debug)]
struct Part(LookPart);

impl std::str::FromStr for Part {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let mut parts = LookPart::ALL.into_iter();
        parts
            .find(|part| part.word() == word.trim())
            .map(Self)
            .ok_or_else(|| {
                format!(
                    "no such part; known: {}",
                    LookPart::ALL.map(LookPart::word).join(", ")
                )
            })
    }
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
    /// Photographs that are hard to read, drawn from the seed: uneven light,
    /// shadow, reflections, poor dye, uneven blur, grain, compression. The two
    /// sets have no kind in common. Absent: even photographs.
    #[arg(long, value_enum, value_name = "SET")]
    look: Option<LookSet>,
    /// Only these parts of the look: light, shadow, reflections, dye, blur,
    /// grain, jpeg.
    #[arg(long, value_delimiter = ',', value_name = "PARTS", requires = "look")]
    parts: Vec<Part>,
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
                Geometry::Hooked => BlockGeometry::Hooked,
                Geometry::LongCurve => BlockGeometry::LongCurve,
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
        let looks = [false, true].map(|after| self.look_of(spec.photo_seed(after)));
        let files = block::write(&spec, looks, &self.out).map_err(CliError::input)?;
        if self.json {
            return print_json(&json!({
                "before": files.before, "after": files.after, "truth": files.truth,
            }));
        }
        print_paths([&files.before, &files.after, &files.truth])
    }

    /// The look of the photograph with that seed.
    fn look_of(&self, seed: u64) -> Look {
        let Some(set) = self.look else {
            return Look::default();
        };
        let families = match set {
            LookSet::Tuning => Families::Tuning,
            LookSet::Test => Families::Test,
        };
        if self.parts.is_empty() {
            return Look::of_families(families, seed);
        }
        let parts: Vec<LookPart> = self.parts.iter().map(|part| part.0).collect();
        Look::with_all_parts(families, seed).only(&parts)
    }
}
