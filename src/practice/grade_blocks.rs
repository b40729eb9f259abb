//! Blocks of an exercise set graded against their truth.

use std::path::{Path, PathBuf};

use super::error::PracticeError;
use super::pair_up::pair_up;
use super::truth::OpenedSet;
use crate::film::OpenedFilm;
use crate::grading::files::GradeError;
use crate::grading::hand_ins::collect;
use crate::grading::private::PrivateText;
use crate::grading::roster::Roster;
use crate::progress::Progress;
use crate::shaping::Comparison;
use crate::shaping_class::{ClassSettings, Due, GradedPair, RefusedPair, ShapingClass, grade_rows};

/// Grades the cases `traces` (files, or folders of them) pair by pair against
/// the truth of the blocks whose pictures they name by hash; the pictures are
/// taken from `films_folder`. `each` sees every comparison while its pictures
/// are in memory.
///
/// # Errors
/// [`PracticeError`]: a folder cannot be read, somebody asked to stop.
pub fn grade_blocks(
    set: &OpenedSet,
    films_folder: &Path,
    traces: &[PathBuf],
    roster: &Roster,
    settings: &ClassSettings,
    progress: &Progress,
    each: impl FnMut(&GradedPair, &Comparison, &[OpenedFilm; 2]),
) -> Result<ShapingClass, PracticeError> {
    let collected = collect(traces, &[], progress).map_err(GradeError::from)?;
    let found = pair_up(set, films_folder, &collected, progress);
    progress.check().map_err(GradeError::from)?;
    let graded = grade_rows(&found.rows, settings, progress, each);
    let (pairs, mut refused) = graded.map_err(GradeError::from)?;
    refused.extend(found.refused);
    let handed_in = |student: &str| {
        pairs.iter().any(|pair| pair.student == student)
            || refused.iter().any(|refused| refused.student == student)
            || found.began.iter().any(|began| began == student)
    };
    let listed = roster.names().map(str::to_owned).chain(collected.empty);
    let mut missing: Vec<String> = listed.filter(|student| !handed_in(student)).collect();
    missing.sort();
    missing.dedup();
    let of_missing = missing.iter().map(|student| RefusedPair {
        student: student.clone(),
        group: None,
        after: String::new(),
        reason: PrivateText::from("nothing handed in"),
    });
    let missing: Vec<RefusedPair> = of_missing.collect();
    refused.extend(missing);
    let due = Due {
        blocks: set.blocks.iter().map(|block| block.name.clone()).collect(),
        roster: roster.clone().with(found.began),
    };
    let rubric = settings.rubric.clone();
    Ok(ShapingClass::new(rubric, pairs, refused, &due))
}
