//! How much the points scatter, and what that says of a model.
//!
//! The standard deviation of a point is stated, not known. It is taken to lie
//! about the statement, with some chance of being anywhere below (points
//! placed by a computer) or up to four times above (a shaky hand). Models are
//! compared with that uncertainty summed over: a form that leaves too little or
//! too much scatter for its number of parameters loses.

/// Standard deviations considered, over the stated one, with the logarithm of
/// their probabilities.
#[derive(Clone, Debug)]
pub(super) struct NoiseGrid {
    ratios: Vec<(f64, f64)>,
}

/// What the scatter says of one model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Judged {
    /// Logarithm of how well it explains the points.
    pub log_evidence: f64,
    /// Mean variance of a point under it, over the stated one.
    pub variance_ratio: f64,
}

/// Spread of the logarithm of the standard deviation about the stated one.
const LOG_SPREAD: f64 = 0.25;
/// Probability that the points scatter less than stated by any factor.
const BELOW: f64 = 0.02;
/// Probability that they scatter more, up to four times.
const ABOVE: f64 = 0.04;
/// Smallest standard deviation considered, over the stated one.
const LEAST_RATIO: f64 = 1e-4;

impl NoiseGrid {
    pub fn new() -> Self {
        let near = (-4..=4).map(|k| {
            (
                0.5 * f64::from(k) * LOG_SPREAD,
                (-0.125 * f64::from(k * k)).exp(),
            )
        });
        let sum: f64 = near.clone().map(|(_, p)| p).sum();
        let near = near.map(|(log, p)| (log, (1.0 - BELOW - ABOVE) * p / sum));
        let below = (1..=20).map(|k| (LEAST_RATIO.ln() * f64::from(k) / 20.0, BELOW / 20.0));
        let above = (1..=6).map(|k| (4f64.ln() * f64::from(k) / 6.0, ABOVE / 6.0));
        let ratios = near
            .chain(below)
            .chain(above)
            .map(|(log, p)| (log.exp(), p.ln()));
        Self {
            ratios: ratios.collect(),
        }
    }

    /// A model of that least χ² at the stated standard deviation, with so many
    /// residuals more than parameters, and its cost in the criterion.
    pub fn judge(&self, chi_square: f64, dof: f64, cost: f64) -> Judged {
        let log_terms = self.ratios.iter().map(|&(ratio, log_prior)| {
            let variance = ratio * ratio;
            (
                variance,
                log_prior - 0.5 * (chi_square / variance + dof * variance.ln() + cost),
            )
        });
        let most = log_terms
            .clone()
            .map(|(_, log)| log)
            .fold(f64::NEG_INFINITY, f64::max);
        if !most.is_finite() {
            return Judged {
                log_evidence: f64::NEG_INFINITY,
                variance_ratio: 1.0,
            };
        }
        let (mut sum, mut variances) = (0.0, 0.0);
        for (variance, log) in log_terms {
            let p = (log - most).exp();
            sum += p;
            variances += p * variance;
        }
        Judged {
            log_evidence: most + sum.ln(),
            variance_ratio: variances / sum,
        }
    }
}
