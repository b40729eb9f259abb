//! All pairs of a class.

use serde::Serialize;

use super::grade::{CanalGrade, GradedPair, RefusedPair, grade_canal};
use super::groups::{GroupComparison, compare_groups};
use super::open_pair::{OpenedPair, open_pair};
use super::pairs::PairRow;
use super::rubric::ShapingRubric;
use super::totals::{Due, totals};
use crate::film::OpenedFilm;
use crate::grading::files::sort_by_number;
use crate::grading::numbering::Numbering;
use crate::grading::private::PrivateText;
use crate::grading::submission::file_stem;
use crate::grading::totals::StudentTotal;
use crate::progress::{Cancelled, Progress};
use crate::shaping::{Comparison, ShapingSettings, compare_opened};

/// How a class is graded.
#[derive(Clone, Debug, Default)]
pub struct ClassSettings {
    pub rubric: ShapingRubric,
    pub shaping: ShapingSettings,
    /// Walls are followed on the pictures where a case has none.
    pub follow_walls: bool,
}

/// The class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapingClass {
    pub rubric: ShapingRubric,
    pub pairs: Vec<GradedPair>,
    pub refused: Vec<RefusedPair>,
    /// Different students among the graded, and how many of them passed every
    /// block of theirs.
    pub students: usize,
    pub students_passed: usize,
    /// Every student's total, by name: `traces` are graded pairs, `films`
    /// blocks to be done.
    pub totals: Vec<StudentTotal>,
    /// Two groups, where the table names exactly two.
    pub groups: Option<GroupComparison>,
}

impl ShapingClass {
    /// A class of what was graded and what was not; `due` says what had to be
    /// done.
    pub fn new(
        rubric: ShapingRubric,
        pairs: Vec<GradedPair>,
        refused: Vec<RefusedPair>,
        due: &Due,
    ) -> Self {
        let totals = totals(&rubric, &pairs, &refused, due);
        let graded = totals.iter().filter(|total| total.traces > 0);
        let students = graded.clone().count();
        let passed = graded.filter(|total| total.has_passed == Some(true));
        Self {
            students,
            students_passed: passed.count(),
            groups: compare_groups(&pairs),
            rubric,
            pairs,
            refused,
            totals,
        }
    }

    /// Replaces the names of students and files by numbers; a student keeps one
    /// number throughout.
    pub fn numbers_for_names(&mut self, numbers: &mut Numbering) {
        for (pair, place) in self.pairs.iter_mut().zip(1..) {
            pair.hide_names(place, numbers);
        }
        for (refused, place) in self.refused.iter_mut().zip(1..) {
            refused.hide_names(place, numbers);
        }
        for total in &mut self.totals {
            total.student = numbers.of(&total.student);
        }
        sort_by_number(&mut self.totals);
    }
}

/// Grades the pairs of a table; one that cannot be read or compared stops no
/// other. `each` sees every comparison while its pictures are in memory.
///
/// # Errors
/// [`Cancelled`] when the caller asked to stop.
pub fn grade_class(
    rows: &[PairRow],
    settings: &ClassSettings,
    progress: &Progress,
    each: impl FnMut(&GradedPair, &Comparison, &[OpenedFilm; 2]),
) -> Result<ShapingClass, Cancelled> {
    let (pairs, refused) = grade_rows(rows, settings, progress, each)?;
    Ok(ShapingClass::new(
        settings.rubric.clone(),
        pairs,
        refused,
        &Due::default(),
    ))
}

/// The pairs alone, without what the class as a whole shows.
///
/// # Errors
/// [`Cancelled`] when the caller asked to stop.
pub fn grade_rows(
    rows: &[PairRow],
    settings: &ClassSettings,
    progress: &Progress,
    mut each: impl FnMut(&GradedPair, &Comparison, &[OpenedFilm; 2]),
) -> Result<(Vec<GradedPair>, Vec<RefusedPair>), Cancelled> {
    let (mut pairs, mut refused) = (Vec::new(), Vec::new());
    for (done, row) in rows.iter().enumerate() {
        progress.report(done, rows.len());
        let (of_row, own) = (row.clone(), settings.clone());
        match progress.wait_for(move || grade_pair(&of_row, &own))? {
            Ok((pair, comparison, films)) => {
                each(&pair, &comparison, &films);
                pairs.push(pair);
            }
            Err(reason) => refused.push(RefusedPair {
                student: row.student.clone().unwrap_or_else(|| file_stem(&row.after)),
                group: row.group.clone(),
                after: row.after.display().to_string(),
                reason: match &row.block {
                    Some(block) => reason.about_place(&block.name),
                    None => reason,
                },
            }),
        }
    }
    progress.report(rows.len(), rows.len());
    Ok((pairs, refused))
}

type Graded = (GradedPair, Comparison, [OpenedFilm; 2]);

fn grade_pair(row: &PairRow, settings: &ClassSettings) -> Result<Graded, PrivateText> {
    let OpenedPair {
        pictures,
        films,
        truth,
    } = open_pair(row)?;
    // The pictures are named by their place: no message then names a file.
    let comparison = compare_opened(pictures, &films, &settings.shaping, settings.follow_walls)
        .map_err(|error| PrivateText::from(error.to_string()))?;
    let findings = &comparison.findings;
    let canals: Vec<CanalGrade> = findings
        .canals
        .iter()
        .map(|canal| grade_canal(&settings.rubric, canal, truth.as_ref()))
        .collect();
    let stated = comparison.pair.after.case.student.as_ref();
    let student = row
        .student
        .clone()
        .or_else(|| stated.and_then(|student| student.given_name()));
    let verdicts: Vec<Option<bool>> = canals.iter().map(|canal| canal.passed).collect();
    let pair = GradedPair {
        student: student.unwrap_or_else(|| file_stem(&row.after)),
        group: row.group.clone(),
        block: row.block.as_ref().map(|block| block.name.clone()),
        before: row.before.display().to_string(),
        after: row.after.display().to_string(),
        points: canals.iter().map(|canal| canal.points).sum(),
        points_possible: canals.iter().map(|canal| canal.points_possible).sum(),
        passed: match () {
            () if verdicts.contains(&Some(false)) => Some(false),
            () if verdicts.contains(&None) => None,
            () => Some(true),
        },
        canals,
        shaping: findings.canals.clone(),
        warnings: findings.warnings.clone(),
    };
    Ok((pair, comparison, films))
}
