//! How soon the chart crosses its barrier: the exact distribution, by carrying
//! the probability of every score from case to case (a Markov chain whose
//! states are the scores that can occur).

use std::collections::BTreeMap;

use super::error::{LearningError, MOST_CASES};
use super::lc_cusum::{SLACK, Weights};

/// Scores are told apart to this, which no sum of fewer than [`MOST_CASES`]
/// weights needs finer.
const STEP: f64 = 1e-9;
/// States less likely than this are left out; they could add at most
/// [`MOST_CASES`]² times as much.
const LEAST_PROBABILITY: f64 = 1e-18;

/// Probability that the chart has crossed `barrier` by each case from the
/// first to number `cases`, for one who fails at the rate `fail_rate`.
///
/// # Errors
/// [`LearningError`]: the barrier or the number of cases is out of range.
pub fn crossed_by(
    weights: Weights,
    barrier: f64,
    fail_rate: f64,
    cases: usize,
) -> Result<Vec<f64>, LearningError> {
    if !(barrier.is_finite() && barrier > 0.0) {
        return Err(LearningError::Barrier(barrier));
    }
    if !(1..=MOST_CASES).contains(&cases) {
        return Err(LearningError::Cases { wanted: cases });
    }
    let mut states = BTreeMap::from([(0_i64, 1.0_f64)]);
    let mut crossed = 0.0;
    let mut by_case = Vec::with_capacity(cases);
    for _ in 0..cases {
        let mut next: BTreeMap<i64, f64> = BTreeMap::new();
        for (&state, &probability) in &states {
            for (weight, rate) in [(weights.pass, 1.0 - fail_rate), (weights.fail, fail_rate)] {
                let score = (state as f64 * STEP + weight).max(0.0);
                let share = probability * rate;
                if score >= barrier - SLACK {
                    crossed += share;
                } else if share > LEAST_PROBABILITY {
                    *next.entry((score / STEP).round() as i64).or_default() += share;
                }
            }
        }
        states = next;
        by_case.push(crossed.min(1.0));
    }
    Ok(by_case)
}

/// The first case by which the chart has crossed with at least the
/// probability `wanted`; `None` if not within `cases`.
pub fn case_of(by_case: &[f64], wanted: f64) -> Option<usize> {
    let at = by_case.iter().position(|&crossed| crossed >= wanted)?;
    Some(at + 1)
}

/// The least barrier, in steps of 0.05, at which one who fails at `fail_rate`
/// crosses within `cases` with at most the probability `most`; `None` where
/// even a chart that no case could cross would not do.
///
/// # Errors
/// As [`crossed_by`].
pub fn barrier_for(
    weights: Weights,
    fail_rate: f64,
    cases: usize,
    most: f64,
) -> Result<Option<f64>, LearningError> {
    // Above the sum of all passes nothing crosses.
    let highest = (weights.pass * cases as f64 / 0.05).ceil() as u32 + 1;
    let at = |step: u32| f64::from(step) * 0.05;
    let crosses = |step: u32| -> Result<f64, LearningError> {
        let by_case = crossed_by(weights, at(step), fail_rate, cases)?;
        Ok(by_case.last().copied().unwrap_or(0.0))
    };
    let (mut too_low, mut enough) = (0, highest);
    if crosses(enough)? > most {
        return Ok(None);
    }
    while enough - too_low > 1 {
        let middle = u32::midpoint(too_low, enough);
        if crosses(middle)? <= most {
            enough = middle;
        } else {
            too_low = middle;
        }
    }
    Ok(Some(at(enough)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DERIVED by an independent propagation of the states (Python); rates
    /// 0.10 adequate, 0.30 inadequate. Median and probability by case 30 of an
    /// adequate and of an inadequate student, and by case 50 of the latter.
    #[test]
    fn run_lengths_of_the_usual_barriers() {
        let weights = Weights::new(0.10, 0.30).expect("rates in order");
        for (barrier, adequate, inadequate) in [
            (1.00, (4, 0.99999), (8, 0.97168, 0.99782)),
            (1.25, (5, 0.99963), (12, 0.87533, 0.97326)),
            (1.50, (6, 0.99690), (19, 0.71912, 0.89335)),
            (2.00, (10, 0.97499), (38, 0.41370, 0.62291)),
        ] {
            let good = crossed_by(weights, barrier, 0.10, 50).expect("in range");
            let bad = crossed_by(weights, barrier, 0.30, 50).expect("in range");
            assert_eq!(case_of(&good, 0.5), Some(adequate.0), "{barrier}");
            assert_eq!(case_of(&bad, 0.5), Some(inadequate.0), "{barrier}");
            for (found, printed) in [
                (good[29], adequate.1),
                (bad[29], inadequate.1),
                (bad[49], inadequate.2),
            ] {
                assert!(
                    (found - printed).abs() < 6e-6,
                    "{barrier}: {found} {printed}"
                );
            }
        }
    }

    #[test]
    fn the_barrier_for_a_wanted_rate_is_the_least_that_keeps_it() {
        let weights = Weights::new(0.10, 0.30).expect("rates in order");
        let barrier = barrier_for(weights, 0.30, 30, 0.10)
            .expect("in range")
            .expect("one");
        let at = |barrier| crossed_by(weights, barrier, 0.30, 30).expect("in range")[29];
        assert!(
            at(barrier) <= 0.10 && at(barrier - 0.05) > 0.10,
            "{barrier}"
        );
        assert!(crossed_by(weights, 0.0, 0.3, 30).is_err());
        assert!(crossed_by(weights, 1.0, 0.3, 0).is_err());
    }
}
