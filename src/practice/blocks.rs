//! Practice blocks of a set: rendered before and after shaping, each block's
//! truth, the cases that belong to it.

use std::path::{Path, PathBuf};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::error::PracticeError;
use super::request::SetRequest;
use super::spool::{Spool, file_name};
use crate::atomic_file;
use crate::case::Case;
use crate::film::hex_digest;
use crate::phantom::block::{
    BlockSpec, BlockTruth, FACE_MM, LevelTruth, MARKS_MM, Scan, photograph, starting_case,
    true_case,
};
use crate::shaping_class::ExerciseBlock;

/// The truth of one block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockOfSet {
    /// `block-01`, as its files begin.
    pub name: String,
    pub spec: BlockSpec,
    /// Before and after shaping.
    pub pictures: [BlockPicture; 2],
}

/// One picture of a block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockPicture {
    /// File name of the film.
    pub film: String,
    /// Its SHA-256, lower-case hex.
    pub sha256: String,
    /// How the block lies on it.
    pub scan: Scan,
}

/// Renders the blocks asked for; `films` names their pictures, before and after
/// in turn.
pub(super) fn render_blocks(
    request: SetRequest,
    films: &[PathBuf],
    folder: &Path,
    spool: &mut Spool,
    progress: &crate::progress::Progress,
) -> Result<Vec<BlockOfSet>, PracticeError> {
    let unwritten = |e| PracticeError::file(folder, atomic_file::reason(&e));
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    let mut blocks = Vec::with_capacity(request.count);
    for pair in films.chunks_exact(2) {
        if progress.is_cancelled() {
            return Err(PracticeError::Stopped);
        }
        // Ledges and perforations do not show without the root's outline: none
        // is drawn.
        let spec = BlockSpec::random(rng.random());
        let mut picture = |after: bool| {
            let film = &pair[usize::from(after)];
            let scan = Scan::random(&mut rng);
            let photo = photograph(&spec, after, &scan.view(rng.random()));
            let photo = photo.ok_or_else(|| PracticeError::file(film, "has no pixels"))?;
            let png = photo.film.png16_bytes().map_err(unwritten)?;
            spool.push(&png).map_err(unwritten)?;
            Ok::<_, PracticeError>(BlockPicture {
                film: file_name(film),
                sha256: hex_digest(&png),
                scan,
            })
        };
        let pictures = [picture(false)?, picture(true)?];
        blocks.push(BlockOfSet {
            name: format!("block-{:02}", blocks.len() + 1),
            spec,
            pictures,
        });
        progress.report(blocks.len(), request.count);
    }
    Ok(blocks)
}

impl BlockOfSet {
    /// What a student starts from: before, after.
    pub fn starting_cases(&self) -> [Case; 2] {
        self.pictures
            .each_ref()
            .map(|picture| starting_case(&picture.scan, &picture.film, picture.sha256.clone()))
    }

    /// The truth as cases, each with its film's name; they name the films in
    /// `films_folder`.
    pub fn true_cases(&self, films_folder: &Path) -> [(&str, Case); 2] {
        let truth = BlockTruth::new(&self.spec);
        [false, true].map(|after| {
            let picture = &self.pictures[usize::from(after)];
            let film_path = films_folder.join(&picture.film);
            let film_path = film_path.to_string_lossy();
            let sha256 = picture.sha256.clone();
            let case = true_case(&truth, after, &picture.scan, &film_path, sha256);
            (picture.film.as_str(), case)
        })
    }

    /// Every number of the truth, mm on the face of the block.
    pub fn numbers(&self) -> Value {
        let truth = BlockTruth::new(&self.spec);
        let count = truth.path().length().floor() as usize;
        let levels = (0..=count).map(|s| truth.level(s as f64));
        json!({
            "spec": self.spec,
            "face_mm": FACE_MM,
            "marks_mm": MARKS_MM,
            "pictures": self.pictures,
            "levels": levels.collect::<Vec<LevelTruth>>(),
        })
    }

    /// The block as a class is graded by it; its pictures lie in
    /// `films_folder`.
    pub fn exercise(&self, films_folder: &Path) -> ExerciseBlock {
        let pictures = self.pictures.each_ref();
        ExerciseBlock {
            name: self.name.clone(),
            spec: self.spec.clone(),
            films: pictures.map(|picture| films_folder.join(&picture.film)),
            scans: pictures.map(|picture| picture.scan),
        }
    }
}
