//! Films of chosen difficulty.

use std::path::{Path, PathBuf};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::error::{LEAST_PASSPHRASE, MOST_FILMS, PracticeError};
use super::truth::{FilmTruth, OpenedSet};
use crate::case;
use crate::film::{self, OpenLimits};
use crate::phantom::{CanalKind, PhantomSpec, render};
use crate::progress::Progress;

/// Name of the sealed truth beside the films.
const SEALED_NAME: &str = "truth.sealed";
/// Ending of files with sealed truth.
const SEALED_ENDING: &str = "sealed";

/// Whether a file of this name is the sealed truth of a set.
pub fn is_sealed_path(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case(SEALED_ENDING))
}

/// How hard the canals of a set are to trace. What counts as hard is our own
/// choice; the bend of an easy canal keeps to the moderate class or below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Difficulty {
    /// Nearly straight, or one bend of at most 20°; calm bone.
    Easy,
    /// One bend.
    Moderate,
    /// S-shaped or bent late, calcified towards the apex, restless bone.
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
            Difficulty::Easy => "nearly straight, or one bend of at most 20°; calm bone",
            Difficulty::Moderate => "one bend of 15 to 45°",
            Difficulty::Hard => {
                "S-shaped or bent late, calcified over the last 2.5 mm, restless bone"
            }
        }
    }

    /// A film's recipe; each has a file of known length for the scale.
    fn spec(self, rng: &mut ChaCha8Rng) -> PhantomSpec {
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

/// A set to be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SetRequest {
    pub count: usize,
    pub difficulty: Difficulty,
    /// The same seed gives the same films: who knows it knows the truth.
    pub seed: u64,
}

/// A set as files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MadeSet {
    /// The films, then the cases to start from.
    pub films: Vec<PathBuf>,
    pub cases: Vec<PathBuf>,
    /// The sealed truth.
    pub sealed: PathBuf,
}

impl MadeSet {
    /// The names a set of `count` films takes in `folder`.
    fn named(count: usize, folder: &Path) -> Self {
        let numbered =
            |index: usize, ending: &str| folder.join(format!("film-{:02}.{ending}", index + 1));
        Self {
            films: (0..count).map(|i| numbered(i, "png")).collect(),
            cases: (0..count).map(|i| numbered(i, "case.json")).collect(),
            sealed: folder.join(SEALED_NAME),
        }
    }

    /// Every file: films, cases, the sealed truth.
    pub fn files(&self) -> impl Iterator<Item = &PathBuf> {
        let cases = self.cases.iter();
        self.films.iter().chain(cases).chain([&self.sealed])
    }
}

/// Renders a set into `folder` (made if need be): `film-01.png`, …, a case to
/// start from beside each, and the truth in one sealed file. Neither films
/// nor cases nor their names hold anything of the truth. `progress` is told of
/// each film. What cannot be ended is taken back: a film whose truth was never
/// sealed is of no use.
///
/// # Errors
/// [`PracticeError`]: nothing that exists is replaced.
pub fn make(
    request: SetRequest,
    folder: &Path,
    passphrase: &str,
    progress: &Progress,
) -> Result<MadeSet, PracticeError> {
    if passphrase.chars().count() < LEAST_PASSPHRASE {
        return Err(PracticeError::ShortPassphrase);
    }
    if !(1..=MOST_FILMS).contains(&request.count) {
        return Err(PracticeError::Count {
            wanted: request.count,
        });
    }
    let set = MadeSet::named(request.count, folder);
    for path in set.files() {
        if path.symlink_metadata().is_ok() {
            return Err(PracticeError::Exists { path: path.clone() });
        }
    }
    let is_new_folder = !folder.exists();
    std::fs::create_dir_all(folder)
        .map_err(|e| PracticeError::file(folder, crate::atomic_file::reason(&e)))?;
    match write(request, &set, passphrase, progress) {
        Ok(()) => Ok(set),
        Err(error) => {
            for path in set.files() {
                // Best effort: the error itself is what has to be told.
                let _ = std::fs::remove_file(path);
            }
            if is_new_folder {
                let _ = std::fs::remove_dir(folder);
            }
            Err(error)
        }
    }
}

fn write(
    request: SetRequest,
    set: &MadeSet,
    passphrase: &str,
    progress: &Progress,
) -> Result<(), PracticeError> {
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    let mut films = Vec::with_capacity(request.count);
    for (film, case) in set.films.iter().zip(&set.cases) {
        if progress.is_cancelled() {
            return Err(PracticeError::Stopped);
        }
        let phantom = render(&request.difficulty.spec(&mut rng))?;
        phantom.save_png(film)?;
        let opened =
            film::open(film, &OpenLimits::default()).map_err(|e| PracticeError::file(film, e))?;
        let name = film.file_name().unwrap_or_default().to_string_lossy();
        let truth = FilmTruth {
            film: name.into_owned(),
            sha256: opened.sha256,
            truth: phantom.truth,
        };
        case::save(&truth.starting_case(), case).map_err(|e| PracticeError::file(case, e))?;
        films.push(truth);
        progress.report(films.len(), request.count);
    }
    OpenedSet { films }.seal_to(&set.sealed, passphrase)
}
