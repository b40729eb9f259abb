//! Limits of agreement where the pairs come in groups: several canals or
//! repeats of one student (Bland & Altman 2007, J Biopharm Stat 17:571–82,
//! "true value varies"), with intervals by recovery of variance estimates
//! (MOVER; after Zou 2013, Stat Methods Med Res 22:630–42, MEM-H).

use std::collections::BTreeMap;

use serde::Serialize;

use super::bland_altman::{BlandAltman, LimitConvention, bland_altman};
use super::{AgreementError, Interval, check_pairs};
use crate::statistics::{chi_squared_quantile, mean, t_quantile};

/// Bias and limits of agreement of first − second, in the rating's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ClusteredBlandAltman {
    pub pairs: usize,
    /// Groups the pairs come in, such as students.
    pub clusters: usize,
    /// Mean of all differences, first − second.
    pub bias: f64,
    pub bias_ci95: Interval,
    /// Standard deviation of a single difference: between and within groups
    /// together.
    pub sd: f64,
    /// Standard deviation of the groups' true means; 0 where the groups differ
    /// no more than their members do.
    pub sd_between: f64,
    /// Within groups; `null` where each has one pair.
    pub sd_within: Option<f64>,
    /// Standard deviations between bias and limits.
    pub multiplier: f64,
    pub lower_limit: f64,
    pub lower_limit_ci95: Interval,
    pub upper_limit: f64,
    pub upper_limit_ci95: Interval,
    /// What taking the pairs for independent would give.
    pub as_if_independent: BlandAltman,
}

/// Limits of agreement of paired values, `clusters` telling which group each
/// pair belongs to. Groups are independent of each other, their members are
/// not. With one pair in each group the limits are those of [`bland_altman`]
/// and the intervals the exact ones.
///
/// # Errors
/// Unpaired, missing, or fewer than two groups.
pub fn clustered_bland_altman<C: Ord>(
    first: &[f64],
    second: &[f64],
    clusters: &[C],
    convention: LimitConvention,
) -> Result<ClusteredBlandAltman, AgreementError> {
    let as_if_independent = bland_altman(first, second, convention)?;
    check_pairs("Bland–Altman", first, second, 2)?;
    if clusters.len() != first.len() {
        return Err(AgreementError::Unpaired {
            first: first.len(),
            second: clusters.len(),
        });
    }
    let mut groups: BTreeMap<&C, Vec<f64>> = BTreeMap::new();
    for ((a, b), cluster) in first.iter().zip(second).zip(clusters) {
        groups.entry(cluster).or_default().push(a - b);
    }
    let k = groups.len();
    if k < 2 {
        return Err(AgreementError::TooFew {
            measure: "Bland–Altman",
            what: "students",
            needed: 2,
            found: k,
        });
    }
    let pairs = first.len();
    let (n, k_f) = (pairs as f64, k as f64);
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let bias = mean(&differences);
    let (mut between, mut within, mut squared_sizes) = (0.0, 0.0, 0.0);
    for own in groups.values() {
        let (own_mean, size) = (mean(own), own.len() as f64);
        between += size * (own_mean - bias).powi(2);
        within += own.iter().map(|d| (d - own_mean).powi(2)).sum::<f64>();
        squared_sizes += size * size;
    }
    let multiplier = convention.multiplier();
    if pairs == k {
        let exact = |lower: bool| match lower {
            true => as_if_independent.lower_limit_exact_ci95,
            false => as_if_independent.upper_limit_exact_ci95,
        };
        return Ok(ClusteredBlandAltman {
            pairs,
            clusters: k,
            bias,
            bias_ci95: as_if_independent.bias_ci95,
            sd: as_if_independent.sd,
            sd_between: as_if_independent.sd,
            sd_within: None,
            multiplier,
            lower_limit: as_if_independent.lower_limit,
            lower_limit_ci95: exact(true),
            upper_limit: as_if_independent.upper_limit,
            upper_limit_ci95: exact(false),
            as_if_independent,
        });
    }
    let mean_square_between = between / (k_f - 1.0);
    let within_dof = n - k_f;
    let mean_square_within = within / within_dof;
    // The size that groups of unequal sizes are worth.
    let size = (n * n - squared_sizes) / ((k_f - 1.0) * n);
    let variance_between = ((mean_square_between - mean_square_within) / size).max(0.0);
    // The variance of one difference is a sum of two independent estimates.
    let parts = [
        (mean_square_between / size, k_f - 1.0),
        ((1.0 - 1.0 / size) * mean_square_within, within_dof),
    ];
    let variance = parts[0].0 + parts[1].0;
    let sd = variance.sqrt();
    let t = t_quantile(0.975, k_f - 1.0).unwrap_or(f64::NAN);
    let variance_of_bias = variance_between * squared_sizes / (n * n) + mean_square_within / n;
    let bias_half = t * variance_of_bias.sqrt();
    let [variance_low, variance_high] = variance_interval(parts);
    let towards_bias = multiplier * (sd - variance_low.max(0.0).sqrt());
    let away = multiplier * (variance_high.sqrt() - sd);
    let (lower_limit, upper_limit) = (bias - multiplier * sd, bias + multiplier * sd);
    Ok(ClusteredBlandAltman {
        pairs,
        clusters: k,
        bias,
        bias_ci95: Interval::around(bias, bias_half),
        sd,
        sd_between: variance_between.sqrt(),
        sd_within: Some(mean_square_within.sqrt()),
        multiplier,
        lower_limit,
        lower_limit_ci95: Interval {
            low: lower_limit - bias_half.hypot(away),
            high: lower_limit + bias_half.hypot(towards_bias),
        },
        upper_limit,
        upper_limit_ci95: Interval {
            low: upper_limit - bias_half.hypot(towards_bias),
            high: upper_limit + bias_half.hypot(away),
        },
        as_if_independent,
    })
}

/// 95 % interval of a sum of independent mean squares with their degrees of
/// freedom.
fn variance_interval(parts: [(f64, f64); 2]) -> [f64; 2] {
    let (mut below, mut above) = (0.0, 0.0);
    for (estimate, dof) in parts {
        let ratio = |p| dof / chi_squared_quantile(p, dof).unwrap_or(f64::NAN);
        below += (estimate * (1.0 - ratio(0.975))).powi(2);
        above += (estimate * (ratio(0.025) - 1.0)).powi(2);
    }
    let sum = parts[0].0 + parts[1].0;
    [sum - below.sqrt(), sum + above.sqrt()]
}
