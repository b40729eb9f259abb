//! One shaped canal held against the rubric.

use serde::Serialize;

use super::measures::ShapingMeasure;
use super::rubric::ShapingRubric;
use super::truth::TrueBlock;
use crate::grading::lines::{self, Verdict, sentence, verdict};
use crate::grading::numbering::Numbering;
use crate::grading::private::PrivateText;
use crate::grading::rubric_line::{Judged, RubricLine};
use crate::measure::findings::Warning;
use crate::shaping::CanalShaping;

/// One line of the rubric of one canal.
pub type LineGrade = lines::LineGrade<ShapingMeasure>;

/// One canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CanalGrade {
    pub name: String,
    pub lines: Vec<LineGrade>,
    pub points: f64,
    /// Of the lines that could be assessed.
    pub points_possible: f64,
    /// `null` where nothing could be assessed, or a required line not.
    pub passed: Option<bool>,
}

/// One student's block.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GradedPair {
    pub student: String,
    pub group: Option<String>,
    /// Name of the block in its exercise set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub block: Option<String>,
    /// The cases, as they were named.
    pub before: String,
    pub after: String,
    pub canals: Vec<CanalGrade>,
    pub points: f64,
    pub points_possible: f64,
    /// Every canal passed; `null` where that is open.
    pub passed: Option<bool>,
    /// What was measured.
    pub shaping: Vec<CanalShaping>,
    pub warnings: Vec<Warning>,
}

/// A pair that could not be graded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RefusedPair {
    pub student: String,
    pub group: Option<String>,
    /// The case after; empty where nothing was handed in.
    pub after: String,
    pub reason: PrivateText,
}

impl GradedPair {
    /// Replaces the student's name and those of the files; `place` among the
    /// pairs, from 1.
    pub fn hide_names(&mut self, place: usize, numbers: &mut Numbering) {
        self.student = numbers.of(&self.student);
        self.before = format!("pair {place} before");
        self.after = format!("pair {place} after");
    }
}

impl RefusedPair {
    /// Something is there, but could not be graded.
    pub fn is_file(&self) -> bool {
        !self.after.is_empty()
    }

    /// Replaces the student's name and that of the file; `place` among the
    /// refused, from 1.
    pub(super) fn hide_names(&mut self, place: usize, numbers: &mut Numbering) {
        self.student = numbers.of(&self.student);
        if self.is_file() {
            self.after = format!("refused pair {place}");
        }
        self.reason.hide_names();
    }
}

/// Holds a canal against the rubric. What the clicks leave open is not
/// assessed, neither for nor against the student.
pub fn grade_canal(
    rubric: &ShapingRubric,
    canal: &CanalShaping,
    truth: Option<&TrueBlock>,
) -> CanalGrade {
    let lines = rubric.lines_for(&canal.name);
    let graded = lines.iter().map(|line| grade_line(line, canal, truth));
    let graded: Vec<LineGrade> = graded.collect();
    let (mut points, mut points_possible) = (0.0, 0.0);
    let (mut fails, mut open) = (false, false);
    for (line, grade) in lines.iter().zip(&graded) {
        if grade.verdict.counts() {
            points += grade.points;
            points_possible += line.points;
        }
        if line.required {
            fails |= matches!(grade.verdict, Verdict::NotMet);
            open |= !grade.verdict.counts();
        }
    }
    // A hair of slack: shares of decimal points are not exact.
    let is_enough = points >= rubric.pass_share * points_possible - 1e-9;
    let passed = match () {
        () if points_possible <= 0.0 => None,
        () if fails || !is_enough => Some(false),
        () if open => None,
        () => Some(true),
    };
    CanalGrade {
        name: canal.name.clone(),
        lines: graded,
        points,
        points_possible,
        passed,
    }
}

fn grade_line(
    line: &RubricLine<ShapingMeasure>,
    canal: &CanalShaping,
    truth: Option<&TrueBlock>,
) -> LineGrade {
    let found = line.measure.of(canal, truth);
    let value = found.map(|found| found.value);
    let u95 = found.and_then(|found| found.u95);
    // What the truth has, the student has to show.
    let is_expected = truth.is_some() && line.measure.needs_truth();
    let verdict = verdict(line, value, u95, is_expected);
    LineGrade::new(line, value, u95, verdict, words(line, value, u95, verdict))
}

fn words(
    line: &RubricLine<ShapingMeasure>,
    value: Option<f64>,
    u95: Option<f64>,
    verdict: Verdict,
) -> String {
    let name = line.measure.words();
    let is_count = line.measure.is_count();
    match (verdict, value) {
        (Verdict::Missing, _) => format!("{name}: not shown by this work, no points"),
        (_, None) if line.measure.needs_truth() => format!("{name}: of an exercise set only"),
        (_, None) => format!("{name}: not measured on these pictures"),
        (Verdict::NotAssessable, Some(_)) if is_count => format!(
            "{name}: not assessable, {} found that the clicks leave unsure",
            u95.unwrap_or(0.0)
        ),
        (_, Some(value)) if is_count => {
            let outcome = match verdict {
                Verdict::Met => "within",
                _ => "outside",
            };
            format!(
                "{name}: {value}, {outcome} the limit ({})",
                line.limit_words()
            )
        }
        _ => sentence(line, value, u95, verdict),
    }
}
