//! Films of chosen difficulty, or blocks before and after shaping, as a set.

use std::path::{Path, PathBuf};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::blocks::render_blocks;
use super::error::{MOST_FILMS, PracticeError};
use super::passphrase::is_long_enough;
use super::request::{SetOf, SetRequest};
use super::spool::{Spool, file_name};
use super::truth::{FilmTruth, OpenedSet};
use crate::film::hex_digest;
use crate::phantom::render;
use crate::progress::Progress;
use crate::{atomic_file, case};

/// Name of the sealed truth beside the films.
const SEALED_NAME: &str = "truth.sealed";
/// The two pictures of a block, as their files are named.
const SIDES: [&str; 2] = ["before", "after"];
/// Ending of files with sealed truth.
const SEALED_ENDING: &str = "sealed";

/// Whether a file of this name is the sealed truth of a set.
pub fn is_sealed_path(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case(SEALED_ENDING))
}

/// A set as files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MadeSet {
    /// What it is made of.
    pub of: SetOf,
    /// The films, then the cases to start from.
    pub films: Vec<PathBuf>,
    pub cases: Vec<PathBuf>,
    /// The sealed truth.
    pub sealed: PathBuf,
}

impl MadeSet {
    /// The names that the set asked for takes in `folder`.
    fn named(request: SetRequest, folder: &Path) -> Self {
        let numbers = 1..=request.count;
        let stems: Vec<String> = match request.of {
            SetOf::Films(_) => numbers.map(|number| format!("film-{number:02}")).collect(),
            SetOf::Blocks => numbers
                .flat_map(|number| SIDES.map(|side| format!("block-{number:02}-{side}")))
                .collect(),
        };
        let with = |ending: &str| {
            let names = stems.iter().map(|stem| format!("{stem}.{ending}"));
            names.map(|name| folder.join(name)).collect()
        };
        Self {
            of: request.of,
            films: with("png"),
            cases: with("case.json"),
            sealed: folder.join(SEALED_NAME),
        }
    }

    /// Every file: films, cases, the sealed truth.
    pub fn files(&self) -> impl Iterator<Item = &PathBuf> {
        let cases = self.cases.iter();
        self.films.iter().chain(cases).chain([&self.sealed])
    }
}

/// Renders a set into `folder` (made if need be): `film-01.png`, … (of blocks
/// `block-01-before.png`, `block-01-after.png`, …), a case to
/// start from beside each, and the truth in one sealed file. Neither films
/// nor cases nor their names hold anything of the truth. `progress` is told of
/// each film.
///
/// A film whose truth was never sealed is of no use, so nothing is written
/// before all are rendered (they wait in a file without a name, which goes with
/// the program), and the sealed truth is written first. What cannot be ended
/// is taken back.
///
/// # Errors
/// [`PracticeError`]: nothing that exists is replaced.
pub fn make(
    request: SetRequest,
    folder: &Path,
    passphrase: &str,
    progress: &Progress,
) -> Result<MadeSet, PracticeError> {
    if !is_long_enough(passphrase) {
        return Err(PracticeError::ShortPassphrase);
    }
    if !(1..=MOST_FILMS).contains(&request.count) {
        return Err(PracticeError::Count {
            wanted: request.count,
        });
    }
    let set = MadeSet::named(request, folder);
    for path in set.files() {
        if path.symlink_metadata().is_ok() {
            return Err(PracticeError::Exists { path: path.clone() });
        }
    }
    let (opened, spool) = render_all(request, &set, folder, progress)?;
    let is_new_folder = !folder.exists();
    std::fs::create_dir_all(folder)
        .map_err(|e| PracticeError::file(folder, atomic_file::reason(&e)))?;
    let mut written = Vec::new();
    match write(&opened, spool, &set, passphrase, &mut written) {
        Ok(()) => Ok(set),
        Err(error) => {
            for path in written {
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

fn render_all(
    request: SetRequest,
    set: &MadeSet,
    folder: &Path,
    progress: &Progress,
) -> Result<(OpenedSet, Spool), PracticeError> {
    let unwritten = |e| PracticeError::file(folder, atomic_file::reason(&e));
    let mut spool = Spool::beside(folder).map_err(unwritten)?;
    let difficulty = match request.of {
        SetOf::Films(difficulty) => difficulty,
        SetOf::Blocks => {
            let blocks = render_blocks(request, &set.films, folder, &mut spool, progress)?;
            let opened = OpenedSet {
                blocks,
                ..OpenedSet::default()
            };
            return Ok((opened, spool));
        }
    };
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    let mut films = Vec::with_capacity(request.count);
    for film in &set.films {
        if progress.is_cancelled() {
            return Err(PracticeError::Stopped);
        }
        let phantom = render(&difficulty.spec(&mut rng))?;
        let png = phantom.png_bytes()?;
        spool.push(&png).map_err(unwritten)?;
        films.push(FilmTruth {
            film: file_name(film),
            sha256: hex_digest(&png),
            truth: phantom.truth,
        });
        progress.report(films.len(), request.count);
    }
    let opened = OpenedSet {
        films,
        ..OpenedSet::default()
    };
    Ok((opened, spool))
}

fn write(
    opened: &OpenedSet,
    spool: Spool,
    set: &MadeSet,
    passphrase: &str,
    written: &mut Vec<PathBuf>,
) -> Result<(), PracticeError> {
    opened.seal_to(&set.sealed, passphrase)?;
    written.push(set.sealed.clone());
    let unread = |e| PracticeError::file(&set.sealed, atomic_file::reading_reason(&e));
    let pngs = spool.films().map_err(unread)?;
    let starting = opened.starting_cases();
    let named = set.films.iter().zip(&set.cases).zip(&starting);
    for (((film, case), start), png) in named.zip(pngs) {
        let case_json = case::to_json(start).into_bytes();
        for (path, bytes) in [(film, png.map_err(unread)?), (case, case_json)] {
            atomic_file::write_new(path, &bytes)
                .map_err(|e| PracticeError::file(path, atomic_file::reason(&e)))?;
            written.push(path.clone());
        }
    }
    Ok(())
}
