//! Grading a whole class, on all cores.

use std::path::Path;

use rayon::prelude::*;
use serde::Serialize;

use super::grade::{TraceGrade, grade};
use super::private::PrivateText;
use super::reference::Reference;
use super::rubric::Rubric;
use super::submission::Submission;
use crate::progress::{Progress, Steps};

pub use super::statistics::{
    ClassDeviation, ClassStatistics, LineCount, Statistic, Summary, class_statistics,
};

/// A hand-in that could not be graded, or that is not there.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Refused {
    pub student: String,
    /// The case file; empty where nothing was handed in.
    pub file: String,
    pub reason: PrivateText,
}

impl Refused {
    /// The case at `path` is refused.
    pub fn new(path: &Path, student: String, reason: PrivateText) -> Self {
        let file = path.display().to_string();
        let reason = match reason.text().contains(&file) {
            true => reason,
            false => reason.of_file(&file),
        };
        Self {
            student,
            file,
            reason,
        }
    }

    /// Nothing was handed in.
    pub fn missing(student: String, reason: &str) -> Self {
        Self {
            student,
            file: String::new(),
            reason: reason.into(),
        }
    }

    /// Student or file, and the reason, in one line.
    pub fn line(&self) -> String {
        match self.is_file() {
            true => self.reason.to_string(),
            false => format!("{}: {}", self.student, self.reason),
        }
    }

    /// A file is there, but could not be graded.
    pub fn is_file(&self) -> bool {
        !self.file.is_empty()
    }

    /// `not graded`, or `not handed in`.
    pub fn status(&self) -> &'static str {
        match self.is_file() {
            true => "not graded",
            false => "not handed in",
        }
    }
}

/// A graded class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GradedTraces {
    pub traces: Vec<TraceGrade>,
    pub refused: Vec<Refused>,
    /// The run was cancelled: traces may be missing.
    pub cancelled: bool,
}

/// Grades `submissions` on all cores, in their order. One that cannot be
/// graded is listed and does not stop the others.
pub fn grade_class(
    reference: &Reference,
    rubric: &Rubric,
    submissions: &[Submission],
    progress: &Progress,
) -> GradedTraces {
    grade_each(submissions, progress, |submission| {
        graded(reference, rubric, submission)
    })
}

/// Runs `grade_one` over all items on all cores.
pub(super) fn grade_each<T: Sync>(
    items: &[T],
    progress: &Progress,
    grade_one: impl Fn(&T) -> Result<TraceGrade, Refused> + Sync,
) -> GradedTraces {
    let steps = Steps::new(progress, items.len());
    let outcomes: Vec<_> = items
        .par_iter()
        .map(|item| {
            if progress.is_cancelled() {
                return None;
            }
            match grade_one(item) {
                // Stopped while it was read: neither graded nor refused.
                Err(_) if progress.is_cancelled() => None,
                outcome => {
                    steps.step();
                    Some(outcome)
                }
            }
        })
        .collect();
    let mut graded = GradedTraces {
        traces: Vec::with_capacity(items.len()),
        refused: Vec::new(),
        cancelled: false,
    };
    for outcome in outcomes {
        match outcome {
            Some(Ok(trace)) => graded.traces.push(trace),
            Some(Err(refused)) => graded.refused.push(refused),
            None => graded.cancelled = true,
        }
    }
    graded
}

/// One submission graded, or why not.
pub(super) fn graded(
    reference: &Reference,
    rubric: &Rubric,
    submission: &Submission,
) -> Result<TraceGrade, Refused> {
    grade(reference, rubric, submission).map_err(|reason| {
        let reason = PrivateText::new(
            reason,
            "it cannot be measured or holds no canal of the reference",
        );
        Refused::new(
            Path::new(&submission.file),
            submission.student.clone(),
            reason,
        )
    })
}
