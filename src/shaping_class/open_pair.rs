//! One pair read: cases, films, and the truth where the pair has one.

use std::path::{Path, PathBuf};

use super::pairs::{ExerciseBlock, PairRow};
use super::truth::TrueBlock;
use crate::case::{self, Case};
use crate::film::{self, OpenLimits, OpenedFilm};
use crate::grading::private::PrivateText;
use crate::grading::submission::lies_beside;
use crate::measure::FilmSummary;
use crate::phantom::block::{BlockTruth, end_mm};
use crate::shaping::Picture;

/// What messages call the two cases.
const NAMES: [&str; 2] = ["the case before", "the case after"];

/// A pair in memory.
pub struct OpenedPair {
    pub pictures: [Picture; 2],
    pub films: [OpenedFilm; 2],
    pub truth: Option<TrueBlock>,
}

/// Reads both cases and their films: of an exercise set those of the set, else
/// those beside the cases.
///
/// # Errors
/// One clear line, with and without the names of the files.
pub fn open_pair(row: &PairRow) -> Result<OpenedPair, PrivateText> {
    let read = |place: usize, path: &Path| {
        let case = case::load(path)?;
        let film_path = film_path(&case, path, row.block.as_ref(), place)?;
        let film = film::open(&film_path, &OpenLimits::default());
        let film = film.map_err(|error| PrivateText::from(&error))?;
        case::check_film_hash(&case, path, &film.sha256)?;
        let picture = Picture {
            case,
            film: FilmSummary::from(&film),
            name: NAMES[place].to_owned(),
            marks_u_px: None,
        };
        Ok::<_, PrivateText>((picture, film))
    };
    let (before, film_before) = read(0, &row.before)?;
    let (after, film_after) = read(1, &row.after)?;
    let pictures = [before, after];
    Ok(OpenedPair {
        truth: row.block.as_ref().map(|block| truth(block, &pictures)),
        pictures,
        films: [film_before, film_after],
    })
}

fn film_path(
    case: &Case,
    path: &Path,
    block: Option<&ExerciseBlock>,
    place: usize,
) -> Result<PathBuf, PrivateText> {
    if let Some(block) = block {
        return Ok(block.films[place].clone());
    }
    if !lies_beside(case, path) {
        let reason = "its film lies outside its own folder; put it beside the case";
        return Err(PrivateText::about(&path.display().to_string(), reason));
    }
    Ok(case::existing_film_path(case, path)?)
}

fn truth(block: &ExerciseBlock, pictures: &[Picture; 2]) -> TrueBlock {
    let truth = BlockTruth::new(&block.spec);
    let off = |place: usize| {
        let scan = block.scans[place];
        let canals = pictures[place].case.canals.iter();
        let end = canals.filter_map(|canal| canal.trace_px.last()).next()?;
        let true_end = scan.px(end_mm(&truth, place == 1));
        Some((end.x - true_end.x).hypot(end.y - true_end.y) / scan.px_per_mm)
    };
    TrueBlock {
        end_error_mm: off(0).zip(off(1)).map(|(before, after)| before.max(after)),
        truth,
    }
}
