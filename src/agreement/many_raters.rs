//! Classes given by three and more raters: Fleiss' κ (Fleiss 1971, Psychol Bull
//! 76:378–82) and Krippendorff's α (Krippendorff 2011, "Computing
//! Krippendorff's alpha-reliability"), which also takes gaps and numbers.

use std::collections::BTreeMap;

use serde::Serialize;

use super::AgreementError;

/// Fleiss' κ.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FleissKappa {
    pub subjects: usize,
    pub raters: usize,
    pub observed_agreement: f64,
    pub expected_agreement: f64,
    pub kappa: f64,
}

/// How far two ratings lie apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Classes: the same or not.
    Nominal,
    /// Classes in an order.
    Ordinal,
    /// Numbers: by the square of their difference.
    Interval,
}

/// Krippendorff's α.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct KrippendorffAlpha {
    pub level: Level,
    /// Subjects rated at least twice.
    pub subjects: usize,
    /// Ratings of those.
    pub ratings: usize,
    pub observed_disagreement: f64,
    pub expected_disagreement: f64,
    pub alpha: f64,
}

/// Fleiss' κ of `ratings[subject][rater]`.
///
/// # Errors
/// No subject, fewer than two raters, unequal rows, or one class alone.
pub fn fleiss_kappa<S: AsRef<str>>(ratings: &[Vec<S>]) -> Result<FleissKappa, AgreementError> {
    let too_few = |what, needed, found| AgreementError::TooFew {
        measure: "Fleiss' κ",
        what,
        needed,
        found,
    };
    let raters = ratings.first().map_or(0, Vec::len);
    if ratings.is_empty() {
        return Err(too_few("subjects", 1, 0));
    }
    if raters < 2 {
        return Err(too_few("raters", 2, raters));
    }
    let mut shares: BTreeMap<&str, f64> = BTreeMap::new();
    let mut observed = 0.0;
    let (n, k) = (ratings.len() as f64, raters as f64);
    for (subject, row) in ratings.iter().enumerate() {
        if row.len() != raters {
            return Err(AgreementError::Ragged {
                subject: subject + 1,
                found: row.len(),
                expected: raters,
            });
        }
        let mut counts: BTreeMap<&str, f64> = BTreeMap::new();
        for class in row {
            *counts.entry(class.as_ref()).or_default() += 1.0;
        }
        observed += counts.values().map(|c| c * (c - 1.0)).sum::<f64>() / (k * (k - 1.0));
        for (class, count) in counts {
            *shares.entry(class).or_default() += count / (n * k);
        }
    }
    observed /= n;
    if shares.len() < 2 {
        return Err(AgreementError::Undefined(
            "all raters used one and the same class: Fleiss' κ is 0/0",
        ));
    }
    let expected: f64 = shares.values().map(|share| share * share).sum();
    Ok(FleissKappa {
        subjects: ratings.len(),
        raters,
        observed_agreement: observed,
        expected_agreement: expected,
        kappa: (observed - expected) / (1.0 - expected),
    })
}

/// Krippendorff's α of `ratings[subject]`, each the ratings that a subject has;
/// subjects with fewer than two say nothing. Numbers stand for classes too: an
/// ordinal or nominal level tells them apart by their size.
///
/// # Errors
/// Fewer than two ratings that can be compared, or no difference between any.
pub fn krippendorff_alpha(
    ratings: &[Vec<f64>],
    level: Level,
) -> Result<KrippendorffAlpha, AgreementError> {
    let compared: Vec<&Vec<f64>> = ratings.iter().filter(|row| row.len() > 1).collect();
    let mut values: Vec<f64> = compared
        .iter()
        .flat_map(|row| row.iter().copied())
        .collect();
    if values.iter().any(|value| !value.is_finite()) {
        return Err(AgreementError::Undefined(
            "Krippendorff's α needs finite numbers or classes",
        ));
    }
    let n = values.len() as f64;
    values.sort_by(f64::total_cmp);
    values.dedup();
    if values.len() < 2 {
        return Err(AgreementError::Undefined(
            "all ratings are equal, or no subject is rated twice: Krippendorff's α is 0/0",
        ));
    }
    let place = |value: f64| values.partition_point(|&v| v < value);
    // Pairs of values within subjects, each subject's worth its ratings.
    let m = values.len();
    let mut coincidences = vec![vec![0.0; m]; m];
    for row in &compared {
        let share = 1.0 / (row.len() - 1) as f64;
        for (i, &one) in row.iter().enumerate() {
            for (j, &other) in row.iter().enumerate() {
                if i != j {
                    coincidences[place(one)][place(other)] += share;
                }
            }
        }
    }
    let totals: Vec<f64> = coincidences.iter().map(|row| row.iter().sum()).collect();
    let apart = |c: usize, d: usize| match level {
        Level::Nominal => f64::from(u8::from(c != d)),
        Level::Interval => (values[c] - values[d]).powi(2),
        Level::Ordinal => {
            let (low, high) = (c.min(d), c.max(d));
            let between: f64 = totals[low..=high].iter().sum();
            (between - (totals[low] + totals[high]) / 2.0).powi(2)
        }
    };
    let (mut observed, mut expected) = (0.0, 0.0);
    for c in 0..m {
        for d in (0..m).filter(|&d| d != c) {
            observed += coincidences[c][d] * apart(c, d);
            expected += totals[c] * totals[d] * apart(c, d);
        }
    }
    let (observed, expected) = (observed / n, expected / (n * (n - 1.0)));
    Ok(KrippendorffAlpha {
        level,
        subjects: compared.len(),
        ratings: n as usize,
        observed_disagreement: observed,
        expected_disagreement: expected,
        alpha: 1.0 - observed / expected,
    })
}
