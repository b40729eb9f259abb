//! A whole class: every grade, and what the class as a whole shows.

use std::collections::BTreeMap;

use rayon::prelude::*;
use serde::Serialize;

use super::distances::Deviation;
use super::grade::{CanalGrade, DeviationTable, TraceGrade, Verdict, grade};
use super::measures::Measure;
use super::reference::Reference;
use super::rubric::Rubric;
use super::submission::Submission;
use super::words::stray_sentences;
use crate::agreement::bland_altman::{BlandAltman, LimitConvention, bland_altman};
use crate::agreement::icc::{IccSet, VarianceTable, intraclass_correlations};
use crate::agreement::kappa::{CohenKappa, cohen_kappa};
use crate::agreement::repeatability::{Dahlberg, Repeatability, dahlberg, repeatability};
use crate::progress::{Progress, Steps};
use crate::statistics::{mean, quantile, sample_sd};

/// A file that could not be graded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Refused {
    pub file: String,
    pub reason: String,
    /// Names the reason may hold, to be hidden when names are not wanted.
    #[serde(skip)]
    pub(super) nameable: Vec<String>,
}

/// One measure over all graded traces of one canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    pub canal: String,
    pub measure: Measure,
    pub count: usize,
    pub mean: f64,
    /// `null` for a single trace.
    pub sd: Option<f64>,
    pub median: f64,
    pub least: f64,
    pub greatest: f64,
}

/// A statistic, or why it cannot be had.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Statistic<T> {
    /// It can be had.
    Known(T),
    /// It cannot.
    Refused {
        /// One clear line.
        refused: String,
    },
}

impl<T> Statistic<T> {
    fn of<E: std::fmt::Display>(result: Result<T, E>) -> Self {
        match result {
            Ok(known) => Statistic::Known(known),
            Err(error) => Statistic::Refused {
                refused: error.to_string(),
            },
        }
    }

    /// The statistic, if it can be had.
    pub fn known(&self) -> Option<&T> {
        match self {
            Statistic::Known(known) => Some(known),
            Statistic::Refused { .. } => None,
        }
    }
}

/// How often one rubric line was not met on one canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineCount {
    pub canal: String,
    pub measure: Measure,
    pub met: usize,
    /// Outside the limit, or not marked.
    pub not_met: usize,
    pub not_assessed: usize,
}

/// The class's median deviation from one canal of the reference.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassDeviation {
    pub canal: String,
    pub median: DeviationTable,
}

/// What the class as a whole shows. Lengths are in `length_unit`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassStatistics {
    pub students: usize,
    pub traces: usize,
    pub passed: usize,
    pub length_unit: &'static str,
    pub summaries: Vec<Summary>,
    /// Student − reference.
    pub length_bland_altman: Statistic<BlandAltman>,
    pub length_dahlberg: Statistic<Dahlberg>,
    /// Canals × students, each student's first trace.
    pub length_icc: Statistic<IccSet>,
    /// First against second trace of those who traced twice: verdicts.
    pub verdict_kappa: Statistic<CohenKappa>,
    /// The same: lengths.
    pub length_repeatability: Statistic<Repeatability>,
    pub lines: Vec<LineCount>,
    pub median_deviations: Vec<ClassDeviation>,
    /// What more than half of the class got wrong, in words.
    pub most_got_wrong: Vec<String>,
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
        grade(reference, rubric, submission).map_err(|reason| Refused {
            file: submission.file.clone(),
            reason,
            nameable: vec![submission.student.clone()],
        })
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
            let outcome = grade_one(item);
            steps.step();
            Some(outcome)
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

/// What the class as a whole shows.
pub fn class_statistics(
    reference: &Reference,
    rubric: &Rubric,
    traces: &[TraceGrade],
) -> ClassStatistics {
    let rounds = Rounds::of(traces);
    let lengths = Lengths {
        in_mm: reference.has_scale(),
    };
    let (mut drawn, mut wanted) = (Vec::new(), Vec::new());
    for canal in traces.iter().flat_map(|t| &t.canals) {
        if let Some((length, error)) = lengths.of(canal).zip(lengths.error_of(canal)) {
            drawn.push(length);
            wanted.push(length - error);
        }
    }
    let lines = line_counts(reference, rubric, traces);
    let medians = median_deviations(reference, traces);
    let mut most_got_wrong = line_sentences(&lines);
    if reference.has_scale() {
        for (canal, offsets) in &medians {
            let Some(wanted) = reference.canals.iter().find(|c| &c.name == canal) else {
                continue;
            };
            let stretches = stray_sentences(&wanted.path, offsets, rubric.stray_mm, "mm");
            most_got_wrong.extend(
                stretches
                    .into_iter()
                    .map(|words| format!("{canal}: for the median of the class, {words}")),
            );
        }
    }
    ClassStatistics {
        students: rounds.first.len(),
        traces: traces.len(),
        passed: traces.iter().filter(|t| t.passed == Some(true)).count(),
        length_unit: reference.unit(),
        summaries: summaries(reference, traces),
        length_bland_altman: Statistic::of(bland_altman(
            &drawn,
            &wanted,
            LimitConvention::default(),
        )),
        length_dahlberg: Statistic::of(dahlberg(&drawn, &wanted)),
        length_icc: Statistic::of(length_icc(reference, &rounds, lengths)),
        verdict_kappa: Statistic::of(verdict_kappa(&rounds)),
        length_repeatability: Statistic::of(length_repeatability(&rounds, lengths)),
        lines,
        median_deviations: medians
            .into_iter()
            .map(|(canal, offsets)| ClassDeviation {
                canal,
                median: DeviationTable::new(&offsets, reference.has_scale()),
            })
            .collect(),
        most_got_wrong,
    }
}

/// Lengths in the unit of the class.
#[derive(Clone, Copy)]
struct Lengths {
    in_mm: bool,
}

impl Lengths {
    fn of(self, canal: &CanalGrade) -> Option<f64> {
        if self.in_mm {
            canal.curved_length_mm
        } else {
            canal.curved_length_px
        }
    }

    fn error_of(self, canal: &CanalGrade) -> Option<f64> {
        let measure = if self.in_mm {
            Measure::LengthErrorMm
        } else {
            Measure::LengthErrorPx
        };
        canal.measures.get(&measure).copied().flatten()
    }
}

/// Each student's first trace, and the second of those who traced twice.
struct Rounds<'a> {
    first: Vec<&'a TraceGrade>,
    pairs: Vec<(&'a TraceGrade, &'a TraceGrade)>,
}

impl<'a> Rounds<'a> {
    fn of(traces: &'a [TraceGrade]) -> Self {
        let mut by_student: BTreeMap<&str, Vec<&TraceGrade>> = BTreeMap::new();
        for trace in traces {
            by_student.entry(&trace.student).or_default().push(trace);
        }
        Self {
            pairs: by_student
                .values()
                .filter(|own| own.len() > 1)
                .map(|own| (own[0], own[1]))
                .collect(),
            first: by_student.into_values().map(|own| own[0]).collect(),
        }
    }

    /// Canals both traces of a pair have.
    fn canal_pairs(&self) -> impl Iterator<Item = (&'a CanalGrade, &'a CanalGrade)> + '_ {
        self.pairs.iter().flat_map(|(first, second)| {
            first.canals.iter().filter_map(|canal| {
                let again = second.canals.iter().find(|c| c.name == canal.name)?;
                Some((canal, again))
            })
        })
    }
}

fn canals_named<'a>(
    traces: &'a [TraceGrade],
    name: &'a str,
) -> impl Iterator<Item = &'a CanalGrade> {
    traces
        .iter()
        .flat_map(|t| &t.canals)
        .filter(move |c| c.name == name)
}

fn summaries(reference: &Reference, traces: &[TraceGrade]) -> Vec<Summary> {
    let mut found = Vec::new();
    for wanted in &reference.canals {
        for &measure in Measure::all() {
            let mut values: Vec<f64> = canals_named(traces, &wanted.name)
                .filter_map(|c| c.measures.get(&measure).copied().flatten())
                .collect();
            let Some(median) = quantile(&mut values, 0.5) else {
                continue;
            };
            found.push(Summary {
                canal: wanted.name.clone(),
                measure,
                count: values.len(),
                mean: mean(&values),
                sd: Some(sample_sd(&values)).filter(|sd| sd.is_finite()),
                median,
                least: values.iter().copied().fold(f64::INFINITY, f64::min),
                greatest: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            });
        }
    }
    found
}

/// ICCs of the lengths, canals × students.
fn length_icc(reference: &Reference, rounds: &Rounds, lengths: Lengths) -> Result<IccSet, String> {
    let mut missing = Vec::new();
    let mut table = Vec::with_capacity(reference.canals.len());
    for wanted in &reference.canals {
        let mut row = Vec::with_capacity(rounds.first.len());
        for trace in &rounds.first {
            let canal = trace.canals.iter().find(|c| c.name == wanted.name);
            match canal.and_then(|c| lengths.of(c)) {
                Some(length) => row.push(length),
                None => missing.push(format!("{} of {}", wanted.name, trace.student)),
            }
        }
        table.push(row);
    }
    if let Some(first) = missing.first() {
        return Err(format!(
            "{} of the canals × students table are missing (first: {first}): every student must trace every canal",
            missing.len()
        ));
    }
    VarianceTable::from_ratings(&table)
        .and_then(|table| intraclass_correlations(&table))
        .map_err(|e| e.to_string())
}

fn verdict_kappa(rounds: &Rounds) -> Result<CohenKappa, String> {
    if rounds.pairs.is_empty() {
        return Err("no student traced twice".to_owned());
    }
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for (canal, again) in rounds.canal_pairs() {
        for (a, b) in canal.lines.iter().zip(&again.lines) {
            if a.verdict != Verdict::NotAssessed && b.verdict != Verdict::NotAssessed {
                first.push(a.verdict.key());
                second.push(b.verdict.key());
            }
        }
    }
    cohen_kappa(&first, &second).map_err(|e| e.to_string())
}

fn length_repeatability(rounds: &Rounds, lengths: Lengths) -> Result<Repeatability, String> {
    if rounds.pairs.is_empty() {
        return Err("no student traced twice".to_owned());
    }
    let pairs: Vec<Vec<f64>> = rounds
        .canal_pairs()
        .filter_map(|(a, b)| Some(vec![lengths.of(a)?, lengths.of(b)?]))
        .collect();
    repeatability(&pairs).map_err(|e| e.to_string())
}

fn line_counts(reference: &Reference, rubric: &Rubric, traces: &[TraceGrade]) -> Vec<LineCount> {
    let mut counts = Vec::new();
    for wanted in &reference.canals {
        for (index, line) in rubric.lines.iter().enumerate() {
            let mut count = LineCount {
                canal: wanted.name.clone(),
                measure: line.measure,
                met: 0,
                not_met: 0,
                not_assessed: 0,
            };
            for canal in canals_named(traces, &wanted.name) {
                match canal.lines[index].verdict {
                    Verdict::Met => count.met += 1,
                    Verdict::NotMet | Verdict::Missing => count.not_met += 1,
                    Verdict::NotAssessed => count.not_assessed += 1,
                }
            }
            counts.push(count);
        }
    }
    counts
}

fn line_sentences(lines: &[LineCount]) -> Vec<String> {
    lines
        .iter()
        .filter(|line| line.not_met > line.met)
        .map(|line| {
            format!(
                "{}: {} of {} did not meet the limit of the {}",
                line.canal,
                line.not_met,
                line.met + line.not_met,
                line.measure.words()
            )
        })
        .collect()
}

/// Median offset of all traces at each place of each canal.
fn median_deviations(
    reference: &Reference,
    traces: &[TraceGrade],
) -> Vec<(String, Vec<Deviation>)> {
    let mut found = Vec::new();
    for wanted in &reference.canals {
        let all: Vec<&[Deviation]> = canals_named(traces, &wanted.name)
            .map(|c| c.offsets.as_slice())
            .collect();
        let Some(places) = all.first() else { continue };
        let medians = places.iter().enumerate().map(|(i, place)| {
            let mut offsets: Vec<f64> = all.iter().map(|offsets| offsets[i].offset_mm).collect();
            Deviation {
                from_end_mm: place.from_end_mm,
                offset_mm: quantile(&mut offsets, 0.5).unwrap_or(f64::NAN),
            }
        });
        found.push((wanted.name.clone(), medians.collect()));
    }
    found
}
