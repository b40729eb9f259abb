//! A block and what is done to it.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

/// Width and height of the block's face, mm: our own round numbers.
pub const FACE_MM: [f64; 2] = [14.0, 26.0];

/// Places of the four marks on the face, mm: around the canal.
pub const MARKS_MM: [[f64; 2]; 4] = [[2.0, 4.0], [12.0, 4.0], [12.0, 23.0], [2.0, 23.0]];

/// Geometries of practice blocks: our own round numbers after common practice
/// (no source).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BlockGeometry {
    /// The first curve turns 30° from the straight part, the second recurves 35°.
    Recurved,
    /// An S of 30° with a radius of 5 mm and 20° with a radius of 4.5 mm.
    SShaped,
    /// Straight, then 60° with a radius of 4.5 mm near the end.
    Hooked,
    /// 40° with a radius of 12 mm.
    LongCurve,
}

/// What the preparation did besides widening.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ShapingKind {
    /// Alike on both sides.
    Centred,
    /// More on the outer side of the most apical curve.
    Outer,
    /// More on its inner side.
    Inner,
    /// The end torn open on the outer side.
    Zip,
    /// Stopped at a step in the outer wall.
    Ledge,
    /// Through the outline on the inner side of the coronal curve.
    Perforation,
}

impl ShapingKind {
    /// All kinds.
    pub const ALL: [Self; 6] = [
        Self::Centred,
        Self::Outer,
        Self::Inner,
        Self::Zip,
        Self::Ledge,
        Self::Perforation,
    ];
}

/// One block and what was done to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockSpec {
    pub seed: u64,
    pub geometry: BlockGeometry,
    pub shaping: ShapingKind,
    /// Preparation wider than the canal by this on each side, mm.
    pub widened_mm: f64,
    /// Its centre moved sideways by at most this, mm.
    pub moved_mm: f64,
}

impl BlockSpec {
    /// Seed of the photograph before or after.
    pub fn photo_seed(&self, after: bool) -> u64 {
        self.seed.wrapping_mul(2).wrapping_add(u64::from(after))
    }

    /// A block whose kind and amounts follow from the seed.
    pub fn random(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let kinds = [
            ShapingKind::Centred,
            ShapingKind::Outer,
            ShapingKind::Inner,
            ShapingKind::Zip,
        ];
        Self {
            seed,
            geometry: if rng.random_bool(0.5) {
                BlockGeometry::Recurved
            } else {
                BlockGeometry::SShaped
            },
            shaping: kinds[rng.random_range(0..kinds.len())],
            widened_mm: rng.random_range(0.08..0.18),
            moved_mm: rng.random_range(0.02..0.10),
        }
    }
}
