//! All pairs of a class.

use serde::Serialize;

use super::grade::{CanalGrade, GradedPair, RefusedPair, grade_canal};
use super::groups::{GroupComparison, compare_groups};
use super::pairs::PairRow;
use super::rubric::ShapingRubric;
use crate::film::OpenedFilm;
use crate::grading::submission::{file_stem, lies_beside};
use crate::progress::{Cancelled, Progress};
use crate::shaping::{Comparison, ShapingSettings, compare_files};

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
    /// Two groups, where the table names exactly two.
    pub groups: Option<GroupComparison>,
}

/// Grades pair after pair; one that cannot be read or compared stops no other.
/// `each` sees every comparison while its pictures are in memory.
///
/// # Errors
/// [`Cancelled`] when the caller asked to stop.
pub fn grade_class(
    rows: &[PairRow],
    settings: &ClassSettings,
    progress: &Progress,
    mut each: impl FnMut(&GradedPair, &Comparison, &[OpenedFilm; 2]),
) -> Result<ShapingClass, Cancelled> {
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
                reason,
            }),
        }
    }
    progress.report(rows.len(), rows.len());
    let groups = compare_groups(&pairs);
    let mut names: Vec<&str> = pairs.iter().map(|pair| pair.student.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let has_passed = |name: &&&str| {
        let own = |pair: &&GradedPair| pair.student == **name;
        let own_pairs = pairs.iter().filter(own);
        let is_graded = |pair: &GradedPair| pair.passed == Some(true);
        own_pairs.clone().all(is_graded) && !refused.iter().any(|r| r.student == **name)
    };
    let students_passed = names.iter().filter(has_passed).count();
    Ok(ShapingClass {
        rubric: settings.rubric.clone(),
        students: names.len(),
        students_passed,
        groups,
        pairs,
        refused,
    })
}

type Graded = (GradedPair, Comparison, [OpenedFilm; 2]);

fn grade_pair(row: &PairRow, settings: &ClassSettings) -> Result<Graded, String> {
    for path in [&row.before, &row.after] {
        let case = crate::case::load(path).map_err(|error| error.to_string())?;
        if !lies_beside(&case, path) {
            return Err(format!(
                "{}: its film lies outside its own folder; put it beside the case",
                path.display()
            ));
        }
    }
    let (comparison, films) = compare_files(
        &row.before,
        &row.after,
        &settings.shaping,
        settings.follow_walls,
    )
    .map_err(|error| error.to_string())?;
    let findings = &comparison.findings;
    let canals: Vec<CanalGrade> = findings
        .canals
        .iter()
        .map(|canal| grade_canal(&settings.rubric, canal))
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
        before: findings.before.clone(),
        after: findings.after.clone(),
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
