//! The truth of an exercise set, as sealed and as opened.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::blocks::BlockOfSet;
use super::error::PracticeError;
use super::passphrase::is_long_enough;
use super::seal::{seal, unseal};
use crate::atomic_file;
use crate::case::{self, Case};
use crate::input_file;
use crate::phantom::{Truth, starting_case, true_case};

/// Largest sealed set read, bytes.
const MAX_SEALED_BYTES: u64 = 64 << 20;

/// The truth of one film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilmTruth {
    /// File name of the film.
    pub film: String,
    /// Its SHA-256, lower-case hex.
    pub sha256: String,
    /// Everything true of it.
    pub truth: Truth,
}

/// An opened exercise set.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct OpenedSet {
    /// In the order of the films.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub films: Vec<FilmTruth>,
    /// Blocks before and after shaping, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub blocks: Vec<BlockOfSet>,
}

impl FilmTruth {
    /// The truth as a case on the film at `film_path`.
    pub fn case(&self, film_path: &str) -> Case {
        true_case(&self.truth, film_path, self.sha256.clone())
    }

    /// What a student starts from.
    pub fn starting_case(&self) -> Case {
        starting_case(&self.truth, &self.film, self.sha256.clone())
    }
}

/// Where the films of the set sealed at `sealed` lie: beside it.
pub fn films_folder(sealed: &Path) -> &Path {
    match sealed.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

impl OpenedSet {
    /// What a student starts from, picture by picture.
    pub(super) fn starting_cases(&self) -> Vec<Case> {
        let films = self.films.iter().map(FilmTruth::starting_case);
        let blocks = self.blocks.iter().flat_map(BlockOfSet::starting_cases);
        films.chain(blocks).collect()
    }

    /// Writes the set sealed.
    ///
    /// # Errors
    /// [`PracticeError`]: the passphrase is too short, the file not writable.
    pub fn seal_to(&self, path: &Path, passphrase: &str) -> Result<(), PracticeError> {
        if !is_long_enough(passphrase) {
            return Err(PracticeError::ShortPassphrase);
        }
        let at = |reason: &dyn std::fmt::Display| PracticeError::file(path, reason);
        let json = serde_json::to_vec(self).map_err(|e| at(&e))?;
        let sealed = seal(&json, passphrase).map_err(|e| at(&e))?;
        let unwritten = |e| at(&atomic_file::reason(&e));
        atomic_file::write_new(path, &sealed).map_err(unwritten)
    }

    /// Opens a sealed set.
    ///
    /// # Errors
    /// [`PracticeError`]: not a sealed file, a wrong passphrase.
    pub fn open(path: &Path, passphrase: &str) -> Result<Self, PracticeError> {
        let at = |reason: &dyn std::fmt::Display| PracticeError::file(path, reason);
        let unread = |e| at(&atomic_file::reading_reason(&e));
        let file = input_file::read(path, MAX_SEALED_BYTES).map_err(unread)?;
        let json = unseal(&file, passphrase).map_err(|e| at(&e))?;
        serde_json::from_slice(&json).map_err(|e| at(&e))
    }

    /// Writes the truth in the open into `folder` (made if need be): a case
    /// per film to grade against, naming the films of `films_folder`, and the
    /// truth's numbers. Returns the files.
    ///
    /// # Errors
    /// [`PracticeError`]: a file exists or cannot be written.
    pub fn write_open(
        &self,
        films_folder: &Path,
        folder: &Path,
    ) -> Result<Vec<PathBuf>, PracticeError> {
        std::fs::create_dir_all(folder)
            .map_err(|e| PracticeError::file(folder, atomic_file::reason(&e)))?;
        let films_folder =
            std::path::absolute(films_folder).map_err(|e| PracticeError::file(films_folder, e))?;
        let mut texts = Vec::new();
        for film in &self.films {
            let stem = film.film.trim_end_matches(".png");
            let case = film.case(&films_folder.join(&film.film).to_string_lossy());
            texts.push((format!("{stem}.truth.case.json"), case::to_json(&case)));
            texts.push((format!("{stem}.truth.json"), in_json(&film.truth, folder)?));
        }
        for block in &self.blocks {
            for (film, case) in block.true_cases(&films_folder) {
                let stem = film.trim_end_matches(".png");
                texts.push((format!("{stem}.truth.case.json"), case::to_json(&case)));
            }
            let name = format!("{}.truth.json", block.name);
            texts.push((name, in_json(&block.numbers(), folder)?));
        }
        let mut written = Vec::new();
        for (name, text) in texts {
            let path = folder.join(name);
            if path.symlink_metadata().is_ok() {
                return Err(PracticeError::Exists { path });
            }
            atomic_file::write_new(&path, text.as_bytes())
                .map_err(|e| PracticeError::file(&path, atomic_file::reason(&e)))?;
            written.push(path);
        }
        Ok(written)
    }
}

fn in_json(truth: &impl Serialize, folder: &Path) -> Result<String, PracticeError> {
    let text = serde_json::to_string_pretty(truth);
    text.map(|text| text + "\n")
        .map_err(|e| PracticeError::file(folder, e))
}
