//! What a class as a whole shows.

use std::collections::BTreeMap;

use serde::Serialize;

use super::distances::Deviation;
use super::grade::{CanalGrade, DeviationTable, TraceGrade, Verdict};
use super::items::{self, Item, ItemFilm, LevelItem};
use super::lengths::{LengthPairs, Lengths};
use super::measures::Measure;
use super::reference::Reference;
use super::rubric::Rubric;
use super::words::{Wording, side_sentences};
use crate::agreement::clustered::ClusteredBlandAltman;
use crate::agreement::icc::{IccSet, VarianceTable, intraclass_correlations};
use crate::agreement::kappa::{CohenKappa, cohen_kappa};
use crate::agreement::repeatability::{Dahlberg, Repeatability, repeatability};
use crate::statistics::{mean, quantile, sample_sd};

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
    /// Known, or the error's words.
    pub fn of<E: std::fmt::Display>(result: Result<T, E>) -> Self {
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
    /// Students who passed, by the attempt that counts.
    pub passed: usize,
    /// Traces that passed, every attempt.
    pub traces_passed: usize,
    pub length_unit: &'static str,
    pub summaries: Vec<Summary>,
    /// Student − reference; the pairs of one student are taken together.
    pub length_bland_altman: Statistic<ClusteredBlandAltman>,
    /// Its t and p are of the students' mean differences, one a student.
    pub length_dahlberg: Statistic<Dahlberg>,
    /// Canals × students, each student's first trace.
    pub length_icc: Statistic<LengthIcc>,
    /// First against second trace of those who traced twice: verdicts.
    pub verdict_kappa: Statistic<CohenKappa>,
    /// The same: lengths.
    pub length_repeatability: Statistic<Repeatability>,
    pub lines: Vec<LineCount>,
    pub median_deviations: Vec<ClassDeviation>,
    /// Each line of the rubric on each canal, the hardest first.
    pub items: Vec<Item>,
    /// Each third of each canal, the hardest first; empty without a scale.
    pub levels: Vec<LevelItem>,
    /// What more than half of the class got wrong, in words.
    pub most_got_wrong: Vec<String>,
}

/// Intraclass correlations of the lengths, and what they rest on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LengthIcc {
    #[serde(flatten)]
    pub icc: IccSet,
    pub canals: usize,
    /// Students who traced every canal.
    pub students: usize,
    /// Students left out because they did not.
    pub students_left_out: usize,
}

/// What the class as a whole shows.
pub fn class_statistics(
    reference: &Reference,
    rubric: &Rubric,
    traces: &[TraceGrade],
) -> ClassStatistics {
    let rounds = Rounds::of(traces);
    let lengths = Lengths {
        unit: reference.length_unit(),
    };
    let pairs = LengthPairs::of(traces, lengths);
    let lines = line_counts(reference, rubric, traces);
    let medians = median_deviations(reference, traces);
    let mut most_got_wrong = line_sentences(&lines);
    if reference.has_scale() {
        for (canal, offsets) in &medians {
            let Some(wanted) = reference.canals.iter().find(|c| &c.name == canal) else {
                continue;
            };
            let wording = Wording {
                limit: rubric.stray_mm,
                unit: "mm",
                right_is: reference.right_is,
            };
            most_got_wrong.extend(end_sentence(canal, traces, rubric.stray_mm));
            most_got_wrong.extend(
                side_sentences(&wanted.path, offsets, wording)
                    .into_iter()
                    .map(|words| format!("{canal}: for the median of the class, {words}")),
            );
        }
    }
    let films = [ItemFilm { film: None, traces }];
    ClassStatistics {
        students: rounds.first.len(),
        traces: traces.len(),
        passed: traces
            .iter()
            .filter(|t| t.counts && t.passed == Some(true))
            .count(),
        traces_passed: traces.iter().filter(|t| t.passed == Some(true)).count(),
        length_unit: reference.length_unit().name(),
        summaries: summaries(reference, traces),
        length_bland_altman: Statistic::of(pairs.bland_altman()),
        length_dahlberg: Statistic::of(pairs.dahlberg()),
        length_icc: Statistic::of(length_icc(reference, &rounds, lengths)),
        verdict_kappa: Statistic::of(verdict_kappa(&rounds)),
        length_repeatability: Statistic::of(length_repeatability(&rounds, lengths)),
        lines,
        median_deviations: medians
            .into_iter()
            .map(|(canal, offsets)| ClassDeviation {
                canal,
                median: DeviationTable::new(&offsets, reference.length_unit()),
            })
            .collect(),
        items: items::items(&films),
        levels: items::levels(&films, rubric.stray_mm),
        most_got_wrong,
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

/// ICCs of the lengths, canals × students, of the students who traced every
/// canal.
fn length_icc(
    reference: &Reference,
    rounds: &Rounds,
    lengths: Lengths,
) -> Result<LengthIcc, String> {
    if reference.canals.len() < 2 {
        return Err(
            "one canal has no correlation: it needs at least 2 canals that differ".to_owned(),
        );
    }
    let of_student = |trace: &&TraceGrade| -> Option<Vec<f64>> {
        let wanted = reference.canals.iter();
        wanted
            .map(|wanted| {
                let canal = trace.canals.iter().find(|c| c.name == wanted.name)?;
                lengths.of(canal)
            })
            .collect()
    };
    let complete: Vec<Vec<f64>> = rounds.first.iter().filter_map(of_student).collect();
    if complete.len() < 2 {
        return Err(format!(
            "{} of {} students traced every canal; a correlation needs at least 2",
            complete.len(),
            rounds.first.len()
        ));
    }
    let table: Vec<Vec<f64>> = (0..reference.canals.len())
        .map(|canal| complete.iter().map(|student| student[canal]).collect())
        .collect();
    let icc = VarianceTable::from_ratings(&table)
        .and_then(|table| intraclass_correlations(&table))
        .map_err(|e| e.to_string())?;
    Ok(LengthIcc {
        icc,
        canals: reference.canals.len(),
        students: complete.len(),
        students_left_out: rounds.first.len() - complete.len(),
    })
}

fn verdict_kappa(rounds: &Rounds) -> Result<CohenKappa, String> {
    if rounds.pairs.is_empty() {
        return Err("no student traced twice".to_owned());
    }
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for (canal, again) in rounds.canal_pairs() {
        for (a, b) in canal.lines.iter().zip(&again.lines) {
            if a.verdict.counts() && b.verdict.counts() {
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
        let lines = rubric.lines.iter().enumerate();
        for (index, line) in lines.filter(|(index, _)| rubric.holds_for(*index, &wanted.name)) {
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
                    Verdict::NotAssessable | Verdict::NotAssessed => count.not_assessed += 1,
                    Verdict::NotApplicable => {}
                }
            }
            counts.push(count);
        }
    }
    counts
}

/// Where the class's traces of a canal end in the median.
fn end_sentence(canal: &str, traces: &[TraceGrade], limit_mm: f64) -> Option<String> {
    let ends = canals_named(traces, canal).filter_map(|c| c.end_beyond_apex_mm);
    let median = quantile(&mut ends.collect::<Vec<f64>>(), 0.5)?;
    (median.abs() > limit_mm).then(|| {
        let place = if median > 0.0 { "beyond" } else { "short of" };
        let by = median.abs();
        format!("{canal}: the median trace of the class ends {by:.1} mm {place} the apex")
    })
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
            let beside = all.iter().map(|offsets| offsets[i]).filter(|d| !d.past_end);
            let mut offsets: Vec<f64> = beside.map(|deviation| deviation.offset).collect();
            // Where most traces have ended, there is no median of the class.
            let is_past = 2 * offsets.len() < all.len();
            Deviation {
                from_end: place.from_end,
                offset: quantile(&mut offsets, 0.5).unwrap_or(f64::NAN),
                past_end: is_past,
            }
        });
        found.push((wanted.name.clone(), medians.collect()));
    }
    found
}
