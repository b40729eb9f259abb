//! Learning curves of all students of a table. Field names are the JSON keys
//! of `progress --json`; docs/progress.md explains them.

use serde::Serialize;

use super::compare::{self, Comparison};
use super::error::LearningError;
use super::lc_cusum::{Weights, first_at};
use super::run_length::{barrier_for, case_of, crossed_by};
use super::signed::{SignedPlan, SignedScores};
use super::table::Results;
use crate::agreement::Interval;
use crate::statistics::Z95;

/// What the charts are drawn by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Failure rate of an adequate student.
    pub adequate: f64,
    /// Failure rate of an inadequate one.
    pub inadequate: f64,
    /// Score at which competence is shown.
    pub barrier: f64,
    /// Cases the course plans for.
    pub cases: usize,
    /// The limit errors pass by, mm; also the bias that counts as inadequate.
    pub limit_mm: Option<f64>,
    /// Standard deviation of one error, mm; else pooled from the table.
    pub sd_mm: Option<f64>,
    /// Score that both charts of signed errors must reach.
    pub signed_barrier: f64,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            adequate: 0.1,
            inadequate: 0.3,
            barrier: 1.25,
            cases: 30,
            limit_mm: None,
            sd_mm: None,
            signed_barrier: 5.0,
        }
    }
}

/// One student's curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudentCurve {
    pub student: String,
    /// After each case.
    pub score: Vec<f64>,
    /// The first case, from 1, at which the score has reached the barrier.
    pub competent_at: Option<usize>,
    pub passed: Vec<bool>,
    /// After competence was shown: the score for decline, from the next case.
    pub decline: Vec<f64>,
    /// The case at which decline was shown.
    pub declined_at: Option<usize>,
    pub error_mm: Option<Vec<f64>>,
    /// The charts of signed errors.
    pub signed: Option<SignedScores>,
    pub signed_competent_at: Option<usize>,
}

/// How often the chart says "competent" wrongly, or rightly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PassProbability {
    pub cases: usize,
    pub probability: f64,
}

/// The charts of signed errors, all students alike.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SignedChart {
    #[serde(flatten)]
    pub plan: SignedPlan,
    /// Taken from the table: pooled within students.
    pub sd_from_table: bool,
    /// Probability at most that a student with a bias of δ is called competent
    /// within the planned cases.
    pub false_pass: PassProbability,
}

/// The class at one case number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ClassPoint {
    pub case: usize,
    /// Students who have a result there.
    pub students: usize,
    pub pass_rate: f64,
    /// Wilson's interval (Wilson 1927, J Am Stat Assoc 22:209–12, MEM-H).
    pub ci95: Interval,
    /// Of all students, those shown competent by then.
    pub competent: usize,
}

/// Everything the table says about learning.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Progress {
    pub students: Vec<StudentCurve>,
    pub weights: Weights,
    pub adequate: f64,
    pub inadequate: f64,
    pub barrier: f64,
    /// Passes in a row, from a score of 0, that reach the barrier.
    pub passes_in_a_row: usize,
    /// Of a student who fails at the inadequate rate.
    pub false_pass: PassProbability,
    /// Of a student who fails at the adequate rate.
    pub true_pass: PassProbability,
    /// Cases by which 90 % of adequate students are shown competent.
    pub cases_for_90_percent: Option<usize>,
    /// Least barrier that keeps the false passes to 10 % over the planned
    /// cases.
    pub barrier_for_10_percent: Option<f64>,
    pub signed: Option<SignedChart>,
    pub class: Vec<ClassPoint>,
    /// Two groups of the table, or the same students in two phases.
    pub comparison: Option<Comparison>,
    pub warnings: Vec<ProgressWarning>,
}

/// What to beware of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ProgressWarning {
    pub code: &'static str,
    pub text: String,
}

/// False passes above this are warned of (our own limit).
const TOLERABLE_FALSE_PASS: f64 = 0.1;

/// Draws every curve.
///
/// # Errors
/// [`LearningError`]: a setting is out of range.
pub fn analyse(results: &Results, plan: &Plan) -> Result<Progress, LearningError> {
    let weights = Weights::new(plan.adequate, plan.inadequate)?;
    let of_rate = |rate| crossed_by(weights, plan.barrier, rate, plan.cases);
    let (bad, good) = (of_rate(plan.inadequate)?, of_rate(plan.adequate)?);
    let at_end = |by_case: &[f64]| PassProbability {
        cases: plan.cases,
        probability: by_case.last().copied().unwrap_or(0.0),
    };
    let (false_pass, true_pass) = (at_end(&bad), at_end(&good));
    let mut warnings = Vec::new();
    let mut warn = |code, text: String| warnings.push(ProgressWarning { code, text });
    for remark in &results.remarks {
        warn("table", remark.clone());
    }
    let within_10 = barrier_for(weights, plan.inadequate, plan.cases, TOLERABLE_FALSE_PASS)?;
    if false_pass.probability > TOLERABLE_FALSE_PASS {
        let advice = within_10.map_or(String::new(), |barrier| {
            format!("; a barrier of {barrier:.2} keeps it to 10 %")
        });
        warn(
            "false_pass",
            format!(
                "a student who fails {:.0} % of the cases is called competent within {} cases with a probability of {:.1} %{advice}",
                100.0 * plan.inadequate,
                plan.cases,
                100.0 * false_pass.probability
            ),
        );
    }
    if let Some(needed) = case_of(&good, 0.9) {
        let few = results
            .students
            .iter()
            .filter(|s| s.cases.len() < needed)
            .count();
        if few > 0 {
            warn(
                "few_cases",
                format!(
                    "{few} of {} students have fewer than {needed} cases, by which 90 % of adequate students are shown competent: for them no verdict says little",
                    results.students.len()
                ),
            );
        }
    } else {
        warn(
            "few_cases",
            format!(
                "fewer than 90 % of adequate students are shown competent within {} cases: plan more, or lower the barrier",
                plan.cases
            ),
        );
    }
    let signed_plan = signed_plan(results, plan, &mut warn)?;
    let signed = match signed_plan {
        Some((signed, from_table)) => Some(SignedChart {
            plan: signed,
            sd_from_table: from_table,
            false_pass: PassProbability {
                cases: plan.cases,
                probability: signed.false_pass(plan.cases)?,
            },
        }),
        None => None,
    };
    let students: Vec<StudentCurve> = results
        .students
        .iter()
        .map(|series| {
            let passed: Vec<bool> = series.cases.iter().map(|case| case.passed).collect();
            let score = weights.scores(&passed);
            let competent_at = first_at(&score, plan.barrier);
            let after = competent_at.map_or(&[][..], |at| &passed[at..]);
            let decline = weights.decline_scores(after);
            let declined = first_at(&decline, plan.barrier);
            let errors: Option<Vec<f64>> = series.cases.iter().map(|case| case.error_mm).collect();
            let signed = signed_plan.zip(errors.as_ref());
            let signed = signed.map(|((plan, _), errors)| (plan, plan.scores(errors)));
            StudentCurve {
                student: series.student.clone(),
                declined_at: competent_at.zip(declined).map(|(at, after)| at + after),
                signed_competent_at: signed.as_ref().and_then(|(plan, s)| plan.competent_at(s)),
                signed: signed.map(|(_, scores)| scores),
                error_mm: errors.filter(|errors| !errors.is_empty()),
                score,
                competent_at,
                passed,
                decline,
            }
        })
        .collect();
    Ok(Progress {
        class: class_points(&students),
        students,
        weights,
        adequate: plan.adequate,
        inadequate: plan.inadequate,
        barrier: plan.barrier,
        passes_in_a_row: ((plan.barrier - 1e-9) / weights.pass).ceil() as usize,
        false_pass,
        true_pass,
        cases_for_90_percent: case_of(&good, 0.9),
        barrier_for_10_percent: within_10,
        signed,
        comparison: compare::groups(results),
        warnings,
    })
}

/// The plan of the charts of signed errors, and whether its standard deviation
/// is the table's; `None` without errors or without a limit.
fn signed_plan(
    results: &Results,
    plan: &Plan,
    warn: &mut impl FnMut(&'static str, String),
) -> Result<Option<(SignedPlan, bool)>, LearningError> {
    let Some(delta_mm) = plan.limit_mm.filter(|_| results.has_errors) else {
        return Ok(None);
    };
    let sd_mm = plan.sd_mm.or_else(|| pooled_sd(results));
    let Some(sd_mm) = sd_mm.filter(|sd| plan.sd_mm.is_some() || *sd > 0.0) else {
        warn(
            "signed",
            "no student has two different errors, from which their standard deviation could be taken: state it for the charts of signed errors (--sd-mm)".to_owned(),
        );
        return Ok(None);
    };
    let signed = SignedPlan::new(delta_mm, sd_mm, plan.signed_barrier)?;
    Ok(Some((signed, plan.sd_mm.is_none())))
}

/// Standard deviation of errors about each student's own mean, pooled.
fn pooled_sd(results: &Results) -> Option<f64> {
    let (mut squares, mut dof) = (0.0, 0);
    for series in &results.students {
        let errors: Vec<f64> = series
            .cases
            .iter()
            .filter_map(|case| case.error_mm)
            .collect();
        if errors.len() > 1 {
            let mean = crate::statistics::mean(&errors);
            squares += errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>();
            dof += errors.len() - 1;
        }
    }
    (dof > 0).then(|| (squares / dof as f64).sqrt())
}

/// The class case by case.
fn class_points(students: &[StudentCurve]) -> Vec<ClassPoint> {
    let longest = students.iter().map(|s| s.passed.len()).max().unwrap_or(0);
    let point = |case: usize| {
        let there = students.iter().filter_map(|s| s.passed.get(case - 1));
        let (count, passes) = there.fold((0, 0), |(count, passes), &passed| {
            (count + 1, passes + usize::from(passed))
        });
        ClassPoint {
            case,
            students: count,
            pass_rate: passes as f64 / count as f64,
            ci95: wilson(passes, count),
            competent: students
                .iter()
                .filter(|s| s.competent_at.is_some_and(|at| at <= case))
                .count(),
        }
    };
    (1..=longest).map(point).collect()
}

/// Wilson's 95 % interval of a share.
pub fn wilson(successes: usize, count: usize) -> Interval {
    let (n, p) = (count as f64, successes as f64 / count as f64);
    let z2 = Z95 * Z95;
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = Z95 / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    Interval {
        low: (centre - half).max(0.0),
        high: (centre + half).min(1.0),
    }
}
