//! The same test on signed errors: two one-sided charts, against a bias of +δ
//! and of −δ (after Biau & Porcher 2010; log likelihood ratios DERIVED).

use serde::Serialize;

use super::error::{LearningError, MOST_CASES};
use super::lc_cusum::SLACK;
use crate::statistics::normal_cdf;

/// Both charts, in the unit of the errors' standard deviation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SignedScores {
    /// Against errors of +δ.
    pub upper: Vec<f64>,
    /// Against errors of −δ.
    pub lower: Vec<f64>,
}

/// What the charts are drawn by.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SignedPlan {
    /// A bias this large is inadequate, mm.
    pub delta_mm: f64,
    /// Standard deviation of one error about its mean, mm.
    pub sd_mm: f64,
    /// Both charts must have reached this.
    pub barrier: f64,
}

impl SignedPlan {
    /// # Errors
    /// A number is not above 0.
    pub fn new(delta_mm: f64, sd_mm: f64, barrier: f64) -> Result<Self, LearningError> {
        for (what, value) in [
            ("the limit in mm", delta_mm),
            ("the standard deviation of the errors", sd_mm),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(LearningError::NotPositive { what, value });
            }
        }
        if !(barrier.is_finite() && barrier > 0.0) {
            return Err(LearningError::Barrier(barrier));
        }
        Ok(Self {
            delta_mm,
            sd_mm,
            barrier,
        })
    }

    /// Both charts over a student's errors: max(0, score + (δ/2 ∓ e)/σ).
    pub fn scores(self, errors_mm: &[f64]) -> SignedScores {
        let chart = |sign: f64| {
            let mut score = 0.0_f64;
            let after = errors_mm.iter().map(|error| {
                score = (score + (self.delta_mm / 2.0 - sign * error) / self.sd_mm).max(0.0);
                score
            });
            after.collect()
        };
        SignedScores {
            upper: chart(1.0),
            lower: chart(-1.0),
        }
    }

    /// Number of the first case, from 1, at which both charts have reached the
    /// barrier.
    pub fn competent_at(self, scores: &SignedScores) -> Option<usize> {
        let pairs = scores.upper.iter().zip(&scores.lower);
        let mut least = pairs.map(|(upper, lower)| upper.min(*lower));
        Some(least.position(|score| score >= self.barrier - SLACK)? + 1)
    }

    /// Probability that the chart against a bias of +δ has reached the barrier
    /// within `cases` although the bias is +δ: at least as large as that of
    /// being called competent, for which the other chart must have too. By a
    /// Markov chain over cells of the score (Brook & Evans 1972, Biometrika
    /// 59:539–49, MEM-H).
    ///
    /// # Errors
    /// [`LearningError::Cases`].
    pub fn false_pass(self, cases: usize) -> Result<f64, LearningError> {
        if !(1..=MOST_CASES).contains(&cases) {
            return Err(LearningError::Cases { wanted: cases });
        }
        const CELLS: usize = 400;
        // A step is normal about −δ/(2σ) with standard deviation 1.
        let mean = -self.delta_mm / (2.0 * self.sd_mm);
        let width = self.barrier / CELLS as f64;
        // Chance that a step is at most `by`.
        let at_most = |by: f64| normal_cdf(by - mean);
        // State 0 is the score 0, state i ≥ 1 the middle of cell i.
        let place = |state: usize| match state {
            0 => 0.0,
            state => (state as f64 - 0.5) * width,
        };
        let mut states = vec![0.0; CELLS + 1];
        states[0] = 1.0;
        // Steps from middles of cells repeat: the chance of a step between
        // edges half a cell apart.
        let half = width / 2.0;
        let reach = 2 * CELLS + 2;
        let edges: Vec<f64> = (0..=2 * reach)
            .map(|edge| at_most((edge as f64 - reach as f64) * half))
            .collect();
        let edge = |by: f64| edges[((by / half).round() as i64 + reach as i64) as usize];
        for _ in 0..cases {
            let mut next = vec![0.0; CELLS + 1];
            for (state, &probability) in states.iter().enumerate() {
                if probability <= 0.0 {
                    continue;
                }
                let from = place(state);
                let mut below = edge(-from);
                next[0] += probability * below;
                for (cell, slot) in next.iter_mut().enumerate().skip(1) {
                    let above = edge(cell as f64 * width - from);
                    *slot += probability * (above - below);
                    below = above;
                }
            }
            states = next;
        }
        let left: f64 = states.iter().sum();
        Ok((1.0 - left).clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    /// DERIVED by hand from the definition, δ 0.5, σ 0.25.
    #[test]
    fn a_worked_series_of_errors() {
        let errors = [
            0.62, -0.10, 0.48, 0.35, 0.05, -0.22, 0.30, -0.05, 0.12, -0.31, 0.08, 0.02,
        ];
        let plan = SignedPlan::new(0.5, 0.25, 5.0).expect("in range");
        let scores = plan.scores(&errors);
        let upper = [
            0.0, 1.4, 0.48, 0.08, 0.88, 2.76, 2.56, 3.76, 4.28, 6.52, 7.2, 8.12,
        ];
        let lower = [
            3.48, 4.08, 7.0, 9.4, 10.6, 10.72, 12.92, 13.72, 15.2, 14.96, 16.28, 17.36,
        ];
        for (found, expected) in [(&scores.upper, upper), (&scores.lower, lower)] {
            for (found, expected) in found.iter().zip(expected) {
                assert!((found - expected).abs() < 1e-9, "{found} {expected}");
            }
        }
        assert_eq!(plan.competent_at(&scores), Some(10));
    }

    /// 40,000 simulated students whose bias is δ: the share whose upper chart
    /// crosses lies within four standard errors of the chain's.
    #[test]
    fn the_chain_agrees_with_simulation() {
        let plan = SignedPlan::new(0.25, 0.3, 3.0).expect("in range");
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let students = 40_000;
        let mut crossed = 0_u32;
        for _ in 0..students {
            let errors: Vec<f64> = (0..30)
                .map(|_| {
                    let z: f64 = StandardNormal.sample(&mut rng);
                    0.25 + 0.3 * z
                })
                .collect();
            let scores = plan.scores(&errors);
            crossed += u32::from(scores.upper.iter().any(|&score| score >= 3.0));
        }
        let simulated = f64::from(crossed) / f64::from(students);
        let exact = plan.false_pass(30).expect("in range");
        let error = (exact * (1.0 - exact) / f64::from(students)).sqrt();
        assert!(
            (simulated - exact).abs() < 4.0 * error + 5e-4,
            "{simulated} {exact}"
        );
        assert!(exact > 0.05, "the comparison says something: {exact}");
    }
}
