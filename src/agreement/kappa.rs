//! Cohen's κ for two raters and any number of classes (Cohen 1960, Educ
//! Psychol Meas 20:37–46), with the simple and the large-sample standard
//! error (Fleiss, Cohen & Everitt 1969, Psychol Bull 72:323–7).

use std::collections::BTreeMap;

use serde::Serialize;

use super::{AgreementError, Interval, TWO_SIDED_95};

/// Smaller standard errors are rounding.
const LEAST_SE: f64 = 1e-7;

/// Cohen's κ with its standard errors.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CohenKappa {
    /// Subjects classed by both raters.
    pub subjects: u64,
    /// Class names, in the order of `counts`.
    pub classes: Vec<String>,
    /// `counts[first rater's class][second rater's class]`.
    pub counts: Vec<Vec<u64>>,
    /// Share of subjects on which the raters agree.
    pub observed_agreement: f64,
    /// Share expected by chance from the margins.
    pub expected_agreement: f64,
    pub kappa: f64,
    /// √(po (1 − po) / n (1 − pe)²), Cohen's first approximation.
    pub se_simple: f64,
    /// Large-sample standard error, which also counts the margins' noise.
    pub se_asymptotic: f64,
    /// κ ± 1.96 large-sample standard errors, cut at −1 and 1; `null` where the
    /// standard error is 0, as it is for raters who agree on everything: too
    /// few subjects for it to say anything, not certainty.
    pub ci95: Option<Interval>,
    /// Why there is no interval.
    pub ci95_missing: Option<String>,
}

/// κ from two raters' classes of the same subjects; classes are told apart by
/// their text.
///
/// # Errors
/// Unpaired, no subject, or both raters using one and the same class.
pub fn cohen_kappa<S: AsRef<str>>(first: &[S], second: &[S]) -> Result<CohenKappa, AgreementError> {
    if first.len() != second.len() {
        return Err(AgreementError::Unpaired {
            first: first.len(),
            second: second.len(),
        });
    }
    let mut index: BTreeMap<&str, usize> = BTreeMap::new();
    for class in first.iter().chain(second) {
        index.insert(class.as_ref(), 0);
    }
    for (place, slot) in index.values_mut().enumerate() {
        *slot = place;
    }
    let mut counts = vec![vec![0; index.len()]; index.len()];
    for (a, b) in first.iter().zip(second) {
        counts[index[a.as_ref()]][index[b.as_ref()]] += 1;
    }
    let classes = index.into_keys().map(str::to_owned).collect();
    cohen_kappa_from_counts(classes, counts)
}

/// The subjects of a table of counts, at least one.
pub(super) fn counted(counts: &[Vec<u64>], measure: &'static str) -> Result<u64, AgreementError> {
    match counts.iter().flatten().sum() {
        0 => Err(AgreementError::TooFew {
            measure,
            what: "subjects",
            needed: 1,
            found: 0,
        }),
        subjects => Ok(subjects),
    }
}

/// κ from a square table of counts, `counts[first][second]`.
///
/// # Errors
/// A table that is not square or does not match `classes`, no subject, or
/// chance agreement of exactly 1.
pub fn cohen_kappa_from_counts(
    classes: Vec<String>,
    counts: Vec<Vec<u64>>,
) -> Result<CohenKappa, AgreementError> {
    let m = classes.len();
    if counts.len() != m || counts.iter().any(|row| row.len() != m) {
        return Err(AgreementError::Undefined(
            "Cohen's κ needs a square table of counts, one row and one column per class",
        ));
    }
    let subjects = counted(&counts, "Cohen's κ")?;
    let n = subjects as f64;
    let p = |i: usize, j: usize| counts[i][j] as f64 / n;
    let first_share: Vec<f64> = (0..m).map(|i| (0..m).map(|j| p(i, j)).sum()).collect();
    let second_share: Vec<f64> = (0..m).map(|j| (0..m).map(|i| p(i, j)).sum()).collect();
    if let Some(only) = first_share.iter().position(|&share| share == 1.0)
        && second_share[only] == 1.0
    {
        return Err(AgreementError::Undefined(
            "both raters used one and the same class: κ is 0/0 (the raters agree, but so would chance)",
        ));
    }
    let observed: f64 = (0..m).map(|i| p(i, i)).sum();
    let expected: f64 = (0..m).map(|i| first_share[i] * second_share[i]).sum();
    let beyond_chance = 1.0 - expected;
    let kappa = (observed - expected) / beyond_chance;

    let mut variance = -(kappa - expected * (1.0 - kappa)).powi(2);
    for (i, second) in second_share.iter().enumerate() {
        for (j, first) in first_share.iter().enumerate() {
            let by_chance = (second + first) * (1.0 - kappa);
            let weight = if i == j { 1.0 - by_chance } else { by_chance };
            variance += p(i, j) * weight * weight;
        }
    }
    let se_asymptotic = (variance.max(0.0) / n).sqrt() / beyond_chance;
    Ok(CohenKappa {
        subjects,
        classes,
        counts,
        observed_agreement: observed,
        expected_agreement: expected,
        kappa,
        se_simple: (observed * (1.0 - observed) / n).sqrt() / beyond_chance,
        se_asymptotic,
        ci95: (se_asymptotic > LEAST_SE).then(|| Interval {
            low: (kappa - TWO_SIDED_95 * se_asymptotic).max(-1.0),
            high: (kappa + TWO_SIDED_95 * se_asymptotic).min(1.0),
        }),
        ci95_missing: (se_asymptotic <= LEAST_SE).then(|| {
            "no interval: the large-sample standard error is 0, as for raters who agree on \
             every subject; more subjects are needed"
                .to_owned()
        }),
    })
}
