//! Two groups, or the same students before and after: the difference of what
//! students come to on average, each student counted once.

use serde::Serialize;

use super::table::Results;
use crate::agreement::Interval;
use crate::statistics::{mean, sample_sd, t_quantile, t_two_sided_p};

/// How two sets of students were compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Design {
    /// The same students in both.
    Paired,
    /// Different students; variances need not be equal (Welch 1947).
    Independent,
}

/// The difference of two means.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    pub first_mean: f64,
    pub second_mean: f64,
    /// Second − first.
    pub difference: f64,
    pub ci95: Interval,
    /// 90 %: what equivalence at 5 % is judged by (Schuirmann 1987, MEM-H).
    pub ci90: Interval,
    pub p: Option<f64>,
}

/// Two groups or phases of a class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    pub groups: [String; 2],
    pub design: Design,
    /// Students compared, of each group.
    pub students: [usize; 2],
    /// Students in one group only, left out of a paired comparison.
    pub left_out: usize,
    /// Share of cases passed, student by student.
    pub pass_rate: Option<Difference>,
    /// Mean absolute error, student by student, mm.
    pub absolute_error_mm: Option<Difference>,
    /// Mean signed error, mm.
    pub error_mm: Option<Difference>,
}

/// The difference of paired values, second − first; `None` for fewer than two
/// pairs.
pub fn paired(first: &[f64], second: &[f64]) -> Option<Difference> {
    if first.len() != second.len() || first.len() < 2 {
        return None;
    }
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| b - a).collect();
    let n = differences.len() as f64;
    let error = sample_sd(&differences) / n.sqrt();
    with_intervals(mean(first), mean(second), error, n - 1.0)
}

/// The difference of two independent samples, second − first, by Welch's t;
/// `None` for fewer than two values in either.
pub fn independent(first: &[f64], second: &[f64]) -> Option<Difference> {
    let (error, dof) = welch(first, second)?;
    with_intervals(mean(first), mean(second), error, dof)
}

/// Half the width of the interval about the difference of two independent
/// samples that leaves `outside` (0 to 1) out, by Welch's t; `None` for fewer
/// than two values in either.
pub fn half_width(first: &[f64], second: &[f64], outside: f64) -> Option<f64> {
    let (error, dof) = welch(first, second)?;
    Some(t_quantile(1.0 - outside / 2.0, dof)? * error)
}

/// Standard error of the difference and its degrees of freedom.
fn welch(first: &[f64], second: &[f64]) -> Option<(f64, f64)> {
    if first.len() < 2 || second.len() < 2 {
        return None;
    }
    let part = |values: &[f64]| sample_sd(values).powi(2) / values.len() as f64;
    let (a, b) = (part(first), part(second));
    let dof_of = |part: f64, values: &[f64]| part * part / (values.len() - 1) as f64;
    let squares = dof_of(a, first) + dof_of(b, second);
    let dof = match squares > 0.0 {
        true => (a + b).powi(2) / squares,
        false => (first.len() + second.len() - 2) as f64,
    };
    Some(((a + b).sqrt(), dof))
}

fn with_intervals(first: f64, second: f64, error: f64, dof: f64) -> Option<Difference> {
    let difference = second - first;
    let interval = |p: f64| Some(Interval::around(difference, t_quantile(p, dof)? * error));
    Some(Difference {
        first_mean: first,
        second_mean: second,
        difference,
        ci95: interval(0.975)?,
        ci90: interval(0.95)?,
        p: (error > 0.0)
            .then(|| t_two_sided_p(difference / error, dof))
            .flatten(),
    })
}

/// Compares the two groups of a table, in the order in which they first stand
/// there for its students; `None` unless there are exactly two.
pub fn groups(results: &Results) -> Option<Comparison> {
    let mut names: Vec<&str> = Vec::new();
    let cases = results.students.iter().flat_map(|series| &series.cases);
    for group in cases.filter_map(|case| case.group.as_deref()) {
        if !names.contains(&group) {
            names.push(group);
        }
    }
    let [first, second] = names.as_slice() else {
        return None;
    };
    type Of = fn(&super::table::Case) -> Option<f64>;
    let measures: [Of; 3] = [
        |case| Some(f64::from(u8::from(case.passed))),
        |case| case.error_mm.map(f64::abs),
        |case| case.error_mm,
    ];
    let in_group = |series: &super::table::Series, group: &str, of: Of| {
        let own = series
            .cases
            .iter()
            .filter(|case| case.group.as_deref() == Some(group));
        let values: Vec<f64> = own.filter_map(of).collect();
        (!values.is_empty()).then(|| mean(&values))
    };
    let has = |series: &super::table::Series, group: &str| {
        series
            .cases
            .iter()
            .any(|case| case.group.as_deref() == Some(group))
    };
    let count = |group: &str| results.students.iter().filter(|s| has(s, group)).count();
    let both = results
        .students
        .iter()
        .filter(|s| has(s, first) && has(s, second))
        .count();
    let design = if both > 0 {
        Design::Paired
    } else {
        Design::Independent
    };
    let difference = |of: Of| {
        let all = |group: &str| -> Vec<f64> {
            let own = results.students.iter().filter(|series| {
                design == Design::Independent || (has(series, first) && has(series, second))
            });
            own.filter_map(|series| in_group(series, group, of))
                .collect()
        };
        match design {
            Design::Paired => paired(&all(first), &all(second)),
            Design::Independent => independent(&all(first), &all(second)),
        }
    };
    Some(Comparison {
        groups: [(*first).to_owned(), (*second).to_owned()],
        design,
        students: match design {
            Design::Paired => [both, both],
            Design::Independent => [count(first), count(second)],
        },
        left_out: match design {
            Design::Paired => count(first) + count(second) - 2 * both,
            Design::Independent => 0,
        },
        pass_rate: difference(measures[0]),
        absolute_error_mm: difference(measures[1]),
        error_mm: difference(measures[2]),
    })
}

impl Difference {
    /// The 90 % interval lies within ± `margin`: the means are equivalent at
    /// the level of 5 %.
    pub fn is_equivalent(&self, margin: f64) -> bool {
        self.ci90.low > -margin && self.ci90.high < margin
    }
}
