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
    levels: [Level; LEVELS],
}

/// Standard deviations considered: about the statement, below and above it.
const LEVELS: usize = 9 + 20 + 6;

#[derive(Clone, Copy, Debug, Default)]
struct Level {
    /// Over the stated variance.
    variance: f64,
    log_variance: f64,
    log_prior: f64,
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

/// Logarithm of a share that a sum of numbers up to 16 cannot show in its last
/// digit.
const NEGLIGIBLE: f64 = -42.0;

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
        let mut levels = [Level::default(); LEVELS];
        for (level, (log, p)) in levels.iter_mut().zip(near.chain(below).chain(above)) {
            *level = Level {
                variance: (2.0 * log).exp(),
                log_variance: 2.0 * log,
                log_prior: p.ln(),
            };
        }
        Self { levels }
    }

    /// A model of that least χ² at the stated standard deviation, with so many
    /// residuals more than parameters, and its cost in the criterion.
    pub fn judge(&self, chi_square: f64, dof: f64, cost: f64) -> Judged {
        let logs = self.levels.map(|level| {
            let misfit = chi_square / level.variance + dof * level.log_variance;
            level.log_prior - 0.5 * (misfit + cost)
        });
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !most.is_finite() {
            return Judged {
                log_evidence: f64::NEG_INFINITY,
                variance_ratio: 1.0,
            };
        }
        let (mut sum, mut variances) = (0.0, 0.0);
        for (level, log) in self.levels.iter().zip(logs) {
            // Adds nothing to a sum of 1 or more.
            if log - most < NEGLIGIBLE {
                continue;
            }
            let p = (log - most).exp();
            sum += p;
            variances += p * level.variance;
        }
        Judged {
            log_evidence: most + sum.ln(),
            variance_ratio: variances / sum,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn prior(level: &Level) -> f64 {
        level.log_prior.exp()
    }

    /// Shares of the levels as the constants state them.
    #[test]
    fn the_levels_are_a_distribution() {
        let grid = NoiseGrid::new();
        let share_of = |is: &dyn Fn(f64) -> bool| -> f64 {
            let sd = |level: &&Level| is(level.variance.sqrt());
            grid.levels.iter().filter(sd).map(prior).sum()
        };
        assert!((share_of(&|_| true) - 1.0).abs() < 1e-12);
        // Two spreads of a quarter of a natural logarithm to both sides.
        let reach = (2.0 * LOG_SPREAD).exp();
        assert!(share_of(&|sd| sd < 1.0 / reach * 0.99) <= BELOW);
        assert!(share_of(&|sd| sd < 0.05) > 0.5 * BELOW);
        let above = share_of(&|sd| sd > reach * 1.01);
        assert!(above > 0.4 * ABOVE && above <= ABOVE, "{above}");
        let widest = grid.levels.iter().map(|l| l.variance).fold(0.0, f64::max);
        assert!(
            (widest - 16.0).abs() < 1e-9,
            "four times the stated: {widest}"
        );
        // A normal distribution cut off at two spreads, in steps of half of one:
        // variance 0.80 of the whole one's.
        let near = |level: &&Level| (level.variance.sqrt().ln() / LOG_SPREAD).abs() < 2.01;
        let near: Vec<&Level> = grid.levels.iter().filter(near).collect();
        let all: f64 = near.iter().map(|l| prior(l)).sum();
        let square = |l: &&Level| prior(l) * (0.5 * l.log_variance / LOG_SPREAD).powi(2);
        let spread: f64 = near.iter().map(square).sum::<f64>() / all;
        assert!((0.75..0.9).contains(&spread), "{spread}");
    }

    /// The scatter that the points show is what is found, once there are many.
    #[test]
    fn the_variance_of_many_points_is_found() {
        let grid = NoiseGrid::new();
        for ratio in [0.01_f64, 0.64, 1.0, 1.7, 6.0] {
            let judged = grid.judge(4000.0 * ratio, 4000.0, 0.0);
            let found = judged.variance_ratio / ratio;
            // The levels are half a spread apart.
            assert!((0.7..1.4).contains(&found), "{ratio}: {found}");
        }
        // A cost of 2 is a factor e of evidence.
        let [dear, cheap] = [3.0, 1.0].map(|cost| grid.judge(12.0, 12.0, cost).log_evidence);
        assert!((cheap - dear - 1.0).abs() < 1e-12);
        assert_eq!(grid.judge(f64::INFINITY, 3.0, 0.0).variance_ratio, 1.0);
    }
}
