//! Weighted κ for classes in an order (Cohen 1968, Psychol Bull 70:213–20),
//! with the large-sample standard error (Fleiss, Cohen & Everitt 1969, Psychol
//! Bull 72:323–7).

use serde::Serialize;

use super::kappa::counted;
use super::{AgreementError, Interval, TWO_SIDED_95};

/// How much near misses count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weighting {
    /// 1 − steps apart / most steps.
    Linear,
    /// 1 − (steps apart / most steps)².
    Quadratic,
}

/// Weighted κ of two raters.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WeightedKappa {
    pub weighting: Weighting,
    pub kappa: f64,
    pub se_asymptotic: f64,
    /// κ ± 1.96 standard errors, cut at −1 and 1; `null` where the standard
    /// error is 0.
    pub ci95: Option<Interval>,
}

/// Weighted κ from a square table of counts, `counts[first][second]`, its
/// classes in order, one step apart.
///
/// # Errors
/// Fewer than two classes, no subject, or no disagreement possible by chance.
pub fn weighted_kappa(
    counts: &[Vec<u64>],
    weighting: Weighting,
) -> Result<WeightedKappa, AgreementError> {
    let m = counts.len();
    if m < 2 || counts.iter().any(|row| row.len() != m) {
        return Err(AgreementError::Undefined(
            "weighted κ needs a square table of at least two classes",
        ));
    }
    let n = counted(counts, "weighted κ")? as f64;
    let share = |i: usize, j: usize| counts[i][j] as f64 / n;
    let weight = |i: usize, j: usize| {
        let apart = i.abs_diff(j) as f64 / (m - 1) as f64;
        1.0 - match weighting {
            Weighting::Linear => apart,
            Weighting::Quadratic => apart * apart,
        }
    };
    let first: Vec<f64> = (0..m).map(|i| (0..m).map(|j| share(i, j)).sum()).collect();
    let second: Vec<f64> = (0..m).map(|j| (0..m).map(|i| share(i, j)).sum()).collect();
    let all = || (0..m).flat_map(|i| (0..m).map(move |j| (i, j)));
    let observed: f64 = all().map(|(i, j)| weight(i, j) * share(i, j)).sum();
    let expected: f64 = all()
        .map(|(i, j)| weight(i, j) * first[i] * second[j])
        .sum();
    let beyond_chance = 1.0 - expected;
    if beyond_chance <= 1e-12 {
        return Err(AgreementError::Undefined(
            "both raters used one and the same class: weighted κ is 0/0",
        ));
    }
    let kappa = (observed - expected) / beyond_chance;
    let of_first: Vec<f64> = (0..m)
        .map(|i| (0..m).map(|j| weight(i, j) * second[j]).sum())
        .collect();
    let of_second: Vec<f64> = (0..m)
        .map(|j| (0..m).map(|i| weight(i, j) * first[i]).sum())
        .collect();
    let spread: f64 = all()
        .map(|(i, j)| {
            let by_chance = (of_first[i] + of_second[j]) * (1.0 - kappa);
            share(i, j) * (weight(i, j) - by_chance).powi(2)
        })
        .sum();
    let variance = (spread - (kappa - expected * (1.0 - kappa)).powi(2)).max(0.0);
    let se_asymptotic = (variance / n).sqrt() / beyond_chance;
    Ok(WeightedKappa {
        weighting,
        kappa,
        se_asymptotic,
        ci95: (se_asymptotic > 1e-7).then(|| Interval {
            low: (kappa - TWO_SIDED_95 * se_asymptotic).max(-1.0),
            high: (kappa + TWO_SIDED_95 * se_asymptotic).min(1.0),
        }),
    })
}
