//! Cases handed in for the blocks of a set, brought together in pairs.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::truth::OpenedSet;
use crate::grading::hand_ins::Collected;
use crate::grading::private::PrivateText;
use crate::grading::submission::film_name;
use crate::progress::Progress;
use crate::shaping_class::{PairRow, RefusedPair};

/// The pairs, and what makes none.
#[derive(Debug, Default)]
pub(super) struct PairedUp {
    pub rows: Vec<PairRow>,
    pub refused: Vec<RefusedPair>,
    /// Students who handed in cases in which nothing is traced.
    pub began: Vec<String>,
}

/// Cases of one student on one block, by picture.
type OfBlock = [Vec<PathBuf>; 2];

/// Brings the cases of each student together, block by block. A case in which
/// nothing is traced counts as not done.
pub(super) fn pair_up(
    set: &OpenedSet,
    films_folder: &Path,
    collected: &Collected,
    progress: &Progress,
) -> PairedUp {
    let mut found = PairedUp::default();
    let mut by_student: BTreeMap<(String, usize), OfBlock> = BTreeMap::new();
    for hand_in in &collected.files {
        let file = hand_in.path.display().to_string();
        let refused = |student: String, reason: PrivateText| RefusedPair {
            student,
            group: None,
            after: file.clone(),
            reason,
        };
        let submission = match hand_in.read(progress) {
            Ok(submission) => submission,
            Err(reason) => {
                found.refused.push(refused(hand_in.student(true), reason));
                continue;
            }
        };
        let canals = &submission.case.canals;
        if canals.iter().all(|canal| canal.trace_px.len() < 2) {
            found.began.push(submission.student);
            continue;
        }
        let film = &submission.case.film;
        let student = match submission.student == picture_stem(film_name(&film.path)) {
            // Named after the picture alone: the folder says whose it is.
            true => folder_name(&hand_in.path).unwrap_or(submission.student),
            false => submission.student,
        };
        match place_of(set, film.sha256.as_deref(), film_name(&film.path)) {
            Some((block, side)) => {
                let own = by_student.entry((student, block)).or_default();
                own[side].push(hand_in.path.clone());
            }
            None => {
                let reason = "its film is none of this exercise set";
                let reason = PrivateText::about(&file, reason);
                found.refused.push(refused(student, reason));
            }
        }
    }
    for ((student, block), cases) in by_student {
        let block = &set.blocks[block];
        match &cases {
            [before, after] if before.len() == 1 && after.len() == 1 => found.rows.push(PairRow {
                before: before[0].clone(),
                after: after[0].clone(),
                student: Some(student),
                group: None,
                block: Some(block.exercise(films_folder)),
            }),
            [before, after] => found.refused.push(RefusedPair {
                student,
                group: None,
                after: after
                    .first()
                    .or(before.first())
                    .map_or(String::new(), |path| path.display().to_string()),
                reason: unpaired(&block.name, before.len(), after.len()).into(),
            }),
        }
    }
    found
}

/// A picture's name without its ending.
fn picture_stem(film: &str) -> &str {
    film.rsplit_once('.').map_or(film, |(stem, _)| stem)
}

/// Name of the folder a file lies in.
fn folder_name(path: &Path) -> Option<String> {
    let folder = path.parent()?.file_name()?;
    Some(folder.to_string_lossy().into_owned())
}

/// Block and side whose picture this is.
fn place_of(set: &OpenedSet, sha256: Option<&str>, film: &str) -> Option<(usize, usize)> {
    set.blocks.iter().enumerate().find_map(|(block, of_set)| {
        let side = of_set.pictures.iter().position(|picture| match sha256 {
            Some(sha256) => picture.sha256.eq_ignore_ascii_case(sha256),
            None => picture.film.eq_ignore_ascii_case(film),
        })?;
        Some((block, side))
    })
}

fn unpaired(block: &str, before: usize, after: usize) -> String {
    match (before, after) {
        (0, _) => format!("{block}: only the picture after is traced; trace the one before too"),
        (_, 0) => format!("{block}: only the picture before is traced; trace the one after too"),
        _ => format!(
            "{block}: {before} cases before and {after} after; hand in one of each, or state the \
             student in every case"
        ),
    }
}
