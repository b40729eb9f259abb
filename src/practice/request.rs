//! What a set shall be: films of chosen difficulty, or blocks.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use crate::phantom::{CanalKind, PhantomSpec};

/// How hard the canals of a set are to trace. What counts as hard is our own
/// choice; the bend of an easy canal keeps to the moderate class or below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Difficulty {
    /// Nearly straight, or one bend of at most 20°; fine trabeculae.
    Easy,
    /// One bend.
    Moderate,
    /// S-shaped or curved in the apical third, calcified towards the apex, coarse trabeculae.
    Hard,
}

/// Greatest bend of an easy canal, degrees.
const EASY_TURN_DEG: f64 = 20.0;
/// Calcified end of a hard canal, mm.
const HARD_CALCIFIED_MM: f64 = 2.5;

impl Difficulty {
    /// Every difficulty, the least first.
    pub const ALL: [Difficulty; 3] = [Difficulty::Easy, Difficulty::Moderate, Difficulty::Hard];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Difficulty::Easy => "easy",
            Difficulty::Moderate => "moderate",
            Difficulty::Hard => "hard",
        }
    }

    /// What its films look like.
    pub fn words(self) -> &'static str {
        match self {
            Difficulty::Easy => "nearly straight, or one curve of at most 20°; fine trabeculae",
            Difficulty::Moderate => "one curve of 15 to 45°",
            Difficulty::Hard => {
                "S-shaped or curved in the apical third, calcified over the last 2.5 mm, coarse trabeculae"
            }
        }
    }

    /// A film's recipe; each has a file of known length for the scale.
    pub(super) fn spec(self, rng: &mut ChaCha8Rng) -> PhantomSpec {
        let kinds = match self {
            Difficulty::Easy => [CanalKind::NearlyStraight, CanalKind::Single],
            Difficulty::Moderate => [CanalKind::Single, CanalKind::Single],
            Difficulty::Hard => [CanalKind::SShaped, CanalKind::LateBend],
        };
        loop {
            let kind = kinds[rng.random_range(0..kinds.len())];
            let mut spec = PhantomSpec::random(kind, rng.random());
            match self {
                Difficulty::Easy => {
                    spec.look.bone_contrast *= 0.7;
                    spec.canal.calcified_apical_mm = 0.0;
                }
                Difficulty::Moderate => {}
                Difficulty::Hard => {
                    spec.look.bone_contrast *= 1.25;
                    spec.canal.calcified_apical_mm = HARD_CALCIFIED_MM;
                }
            }
            let gentle = |turn_deg: f64| turn_deg.abs() <= EASY_TURN_DEG;
            let bends = &spec.canal.bends;
            let fits = self != Difficulty::Easy || bends.iter().all(|bend| gentle(bend.turn_deg));
            if fits && spec.file.is_some() && spec.check().is_ok() {
                return spec;
            }
        }
    }
}

/// What a set is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetOf {
    /// Films to be traced.
    Films(Difficulty),
    /// Practice blocks, each a scan before and one after shaping.
    Blocks,
}

/// A set to be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SetRequest {
    /// Films, or blocks.
    pub count: usize,
    pub of: SetOf,
    /// The same seed gives the same films: who knows it knows the truth.
    pub seed: u64,
}
