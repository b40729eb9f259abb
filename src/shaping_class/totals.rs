//! Every student's total over all blocks.

use std::collections::BTreeMap;

use super::grade::{GradedPair, RefusedPair};
use super::rubric::ShapingRubric;
use crate::grading::roster::Roster;
use crate::grading::totals::StudentTotal;

/// What had to be done.
#[derive(Clone, Debug, Default)]
pub struct Due {
    /// Names of the blocks of an exercise set; empty: whatever was handed in.
    pub blocks: Vec<String>,
    pub roster: Roster,
}

#[derive(Default)]
struct OfStudent<'a> {
    graded: Vec<&'a GradedPair>,
    refused: usize,
}

/// Totals of all who handed in or are on the list, by name. What is undone
/// counts with all it is worth; a student has passed who passed every block.
pub fn totals(
    rubric: &ShapingRubric,
    pairs: &[GradedPair],
    refused: &[RefusedPair],
    due: &Due,
) -> Vec<StudentTotal> {
    let mut students: BTreeMap<&str, OfStudent> = BTreeMap::new();
    for pair in pairs {
        students.entry(&pair.student).or_default().graded.push(pair);
    }
    for one in refused {
        let own = students.entry(&one.student).or_default();
        own.refused += usize::from(one.is_file());
    }
    for name in due.roster.names() {
        students.entry(name).or_default();
    }
    let worth: f64 = rubric.lines_for("").iter().map(|line| line.points).sum();
    let students = students.into_iter();
    students
        .map(|(student, own)| total(student, &own, worth, due))
        .collect()
}

fn total(student: &str, own: &OfStudent, worth: f64, due: &Due) -> StudentTotal {
    let (mut undone, mut excused) = (0, 0);
    for block in &due.blocks {
        let is_done = own
            .graded
            .iter()
            .any(|pair| pair.block.as_ref() == Some(block));
        match is_done {
            true => {}
            false if due.roster.excuses(student, block) => excused += 1,
            false => undone += 1,
        }
    }
    if due.blocks.is_empty() {
        undone = own.refused;
    }
    // From 0.0: the sum of nothing would be −0.
    let of = |points: fn(&GradedPair) -> f64| {
        own.graded
            .iter()
            .map(|pair| points(pair))
            .fold(0.0, std::ops::Add::add)
    };
    let points: f64 = of(|pair| pair.points);
    let points_possible = of(|pair| pair.points_possible) + worth * undone as f64;
    let verdicts = || own.graded.iter().map(|pair| pair.passed);
    StudentTotal {
        student: student.to_owned(),
        traces: own.graded.len(),
        films: own.graded.len() + undone,
        passed: verdicts().filter(|passed| *passed == Some(true)).count(),
        undone,
        excused,
        refused: own.refused,
        points,
        points_possible,
        percent: (points_possible > 0.0).then(|| 100.0 * points / points_possible),
        has_passed: match () {
            () if undone > 0 || verdicts().any(|passed| passed == Some(false)) => Some(false),
            () if own.graded.is_empty() || verdicts().any(|passed| passed.is_none()) => None,
            () => Some(true),
        },
        counted_attempts: own.graded.iter().map(|_| Some(1)).collect(),
    }
}
