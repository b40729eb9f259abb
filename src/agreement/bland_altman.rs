//! Limits of agreement between two methods or raters (Bland & Altman 1986,
//! Lancet i:307–10).

use std::collections::BTreeMap;
use std::sync::Mutex;

use serde::Serialize;

use super::{AgreementError, Interval, TWO_SIDED_95, check_pairs};
use crate::statistics::{
    approximate_noncentral_t_quantile, correlation, mean, noncentral_t_quantile, sample_sd,
    t_quantile,
};

/// How many standard deviations the limits lie from the bias.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitConvention {
    /// 1.96: 95 % of normal differences.
    #[default]
    Normal196,
    /// 2: as the 1986 paper rounded it.
    TwoSd,
}

impl LimitConvention {
    /// Standard deviations between bias and limit.
    pub fn multiplier(self) -> f64 {
        match self {
            LimitConvention::Normal196 => TWO_SIDED_95,
            LimitConvention::TwoSd => 2.0,
        }
    }
}

/// Bias and limits of agreement of first − second, in the rating's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BlandAltman {
    pub pairs: usize,
    /// Mean difference, first − second.
    pub bias: f64,
    pub bias_ci95: Interval,
    /// Standard deviation of the differences (n − 1).
    pub sd: f64,
    /// Standard deviations between bias and limits.
    pub multiplier: f64,
    pub lower_limit: f64,
    pub lower_limit_ci95: Interval,
    pub upper_limit: f64,
    pub upper_limit_ci95: Interval,
    /// Exact for normal differences (Carkeet 2015, Optom Vis Sci 92:e71–80,
    /// MEM-H): the approximation holds the limit of 5 pairs 91 % of the time.
    pub lower_limit_exact_ci95: Interval,
    pub upper_limit_exact_ci95: Interval,
    /// Pearson's r of the two series; `None` when one does not vary. It is
    /// no measure of agreement.
    pub correlation: Option<f64>,
    /// Pearson's r of difference and mean: far from 0, the disagreement grows
    /// with the size and one pair of limits does not fit all sizes.
    pub difference_against_mean: Option<f64>,
}

/// Limits of agreement of paired values. The confidence intervals use t with
/// n − 1 degrees of freedom, standard errors s/√n for the bias and √(3 s²/n)
/// for a limit, as the paper does.
///
/// # Errors
/// Unpaired, missing, or fewer than two pairs.
pub fn bland_altman(
    first: &[f64],
    second: &[f64],
    convention: LimitConvention,
) -> Result<BlandAltman, AgreementError> {
    check_pairs("Bland–Altman", first, second, 2)?;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let means: Vec<f64> = first
        .iter()
        .zip(second)
        .map(|(a, b)| (a + b) / 2.0)
        .collect();
    let n = differences.len() as f64;
    let bias = mean(&differences);
    let sd = sample_sd(&differences);
    let t = t_quantile(0.975, n - 1.0).unwrap_or(f64::NAN);
    let multiplier = convention.multiplier();
    let limit_half_width = t * (3.0 * sd * sd / n).sqrt();
    let (lower_limit, upper_limit) = (bias - multiplier * sd, bias + multiplier * sd);
    let [near, far] = exact_factors(differences.len(), multiplier);
    Ok(BlandAltman {
        pairs: differences.len(),
        bias,
        bias_ci95: Interval::around(bias, t * sd / n.sqrt()),
        sd,
        multiplier,
        lower_limit,
        lower_limit_ci95: Interval::around(lower_limit, limit_half_width),
        upper_limit,
        upper_limit_ci95: Interval::around(upper_limit, limit_half_width),
        lower_limit_exact_ci95: Interval {
            low: bias - far * sd,
            high: bias - near * sd,
        },
        upper_limit_exact_ci95: Interval {
            low: bias + near * sd,
            high: bias + far * sd,
        },
        correlation: correlation(first, second),
        difference_against_mean: correlation(&differences, &means),
    })
}

/// Standard deviations from the bias to the ends of a limit's exact 95 %
/// interval: quantiles of the noncentral t distribution, divided by √n. Above
/// a thousand pairs by the approximation of Johnson & Welch 1940 (Biometrika
/// 31:362–89, MEM-H), there within 0.0004.
pub fn exact_factors(n: usize, multiplier: f64) -> [f64; 2] {
    const MOST_EXACT: usize = 1000;
    /// Every pair of raters of a table asks for the same ones.
    static KNOWN: Mutex<BTreeMap<(usize, u64), [f64; 2]>> = Mutex::new(BTreeMap::new());
    let (dof, root) = (n as f64 - 1.0, (n as f64).sqrt());
    let delta = multiplier * root;
    if n > MOST_EXACT {
        return [0.025, 0.975].map(|p| {
            let quantile = approximate_noncentral_t_quantile(p, dof, delta);
            quantile.map_or(f64::NAN, |t| t / root)
        });
    }
    let key = (n, multiplier.to_bits());
    let known = || {
        KNOWN
            .lock()
            .unwrap_or_else(|poisoned| poisoned.into_inner())
    };
    if let Some(&found) = known().get(&key) {
        return found;
    }
    let found =
        [0.025, 0.975].map(|p| noncentral_t_quantile(p, dof, delta).map_or(f64::NAN, |t| t / root));
    known().insert(key, found);
    found
}
