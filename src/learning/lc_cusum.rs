//! The learning-curve CUSUM on passes and failures (Biau & Porcher 2010, Stat
//! Med 29:1959–64; abstract SEEN, weights as in public code SEEN): the student
//! is taken for inadequate until the chart has crossed the barrier.

use serde::Serialize;

use super::error::LearningError;

/// What a case adds to the score.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Weights {
    /// Added for a pass, above 0.
    pub pass: f64,
    /// Added for a failure, below 0.
    pub fail: f64,
}

impl Weights {
    /// Log likelihood ratios of the adequate against the inadequate failure
    /// rate: ln((1 − p1)/(1 − p0)) for a pass, ln(p1/p0) for a failure, where
    /// p1 is adequate and p0 > p1 inadequate. (Papers differ in which of the
    /// two they call p0.)
    ///
    /// # Errors
    /// [`LearningError::Rates`].
    pub fn new(adequate: f64, inadequate: f64) -> Result<Self, LearningError> {
        if !(0.0 < adequate && adequate < inadequate && inadequate < 1.0) {
            return Err(LearningError::Rates {
                adequate,
                inadequate,
            });
        }
        Ok(Self {
            pass: ((1.0 - adequate) / (1.0 - inadequate)).ln(),
            fail: (adequate / inadequate).ln(),
        })
    }

    fn of(self, passed: bool) -> f64 {
        if passed { self.pass } else { self.fail }
    }

    /// The failure rate at which the score neither rises nor falls.
    pub fn break_even_rate(self) -> f64 {
        self.pass / (self.pass - self.fail)
    }

    /// The score after each case: never below 0.
    pub fn scores(self, passed: &[bool]) -> Vec<f64> {
        let mut score = 0.0_f64;
        let after = passed.iter().map(|&passed| {
            score = (score + self.of(passed)).max(0.0);
            score
        });
        after.collect()
    }

    /// The score for decline, started anew after competence was shown: the same
    /// test with the hypotheses exchanged.
    pub fn decline_scores(self, passed: &[bool]) -> Vec<f64> {
        let mut score = 0.0_f64;
        let after = passed.iter().map(|&passed| {
            score = (score - self.of(passed)).max(0.0);
            score
        });
        after.collect()
    }
}

/// The score counts as having reached the barrier from here on: sums of
/// logarithms are not exact.
pub const SLACK: f64 = 1e-9;

/// Number of the first case, from 1, at which the score has reached the
/// barrier.
pub fn first_at(scores: &[f64], barrier: f64) -> Option<usize> {
    let at = scores.iter().position(|&score| score >= barrier - SLACK)?;
    Some(at + 1)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::LN_2;

    use super::*;

    /// DERIVED from the formula of the weights, five digits and more.
    #[test]
    fn weights_and_break_even_rates() {
        for (adequate, inadequate, pass, fail, even) in [
            (0.10, 0.20, 0.117783, -LN_2, 0.14524),
            (0.05, 0.10, 0.054067, -LN_2, 0.07236),
            (0.10, 0.30, 0.251314, -1.098612, 0.18617),
            (0.05, 0.20, 0.171850, -1.386294, 0.11029),
        ] {
            let weights = Weights::new(adequate, inadequate).expect("rates in order");
            assert!((weights.pass - pass).abs() < 5e-7, "{weights:?}");
            assert!((weights.fail - fail).abs() < 5e-7, "{weights:?}");
            assert!((weights.break_even_rate() - even).abs() < 5e-6);
        }
        for (adequate, inadequate) in [
            (0.3, 0.1),
            (0.1, 0.1),
            (0.0, 0.1),
            (0.1, 1.0),
            (f64::NAN, 0.1),
        ] {
            assert!(Weights::new(adequate, inadequate).is_err());
        }
    }

    /// DERIVED by hand from the definition: failures at cases 1, 3 and 7.
    #[test]
    fn a_worked_series_crosses_at_the_stated_cases() {
        let passed: Vec<bool> = (1..=15).map(|case| ![1, 3, 7].contains(&case)).collect();
        let weights = Weights::new(0.10, 0.30).expect("rates in order");
        let scores = weights.scores(&passed);
        let expected = [
            0.0, 0.2513, 0.0, 0.2513, 0.5026, 0.7539, 0.0, 0.2513, 0.5026, 0.7539, 1.0053, 1.2566,
        ];
        for (score, expected) in scores.iter().zip(expected) {
            assert!((score - expected).abs() < 1e-4, "{score} {expected}");
        }
        for (barrier, case) in [(1.25, 12), (1.5, 13), (2.0, 15)] {
            assert_eq!(first_at(&scores, barrier), Some(case), "{barrier}");
        }
        assert_eq!(first_at(&scores, 3.0), None);
        // All failures: decline is seen at the second (2 · 1.0986 ≥ 1.25).
        assert_eq!(
            first_at(&weights.decline_scores(&[false; 3]), 1.25),
            Some(2)
        );
    }
}
