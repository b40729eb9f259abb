//! How well raters agree: intraclass correlations, Bland–Altman limits,
//! Dahlberg's error, repeatability and Cohen's κ, from arrays or from a
//! subjects × raters table.

pub mod analysis;
pub mod bland_altman;
pub mod clustered;
pub mod icc;
pub mod kappa;
pub mod many_raters;
pub mod repeatability;
mod rows;
pub mod sample_size;
mod subject_column;
pub mod table;
mod table_error;
pub mod text;
pub mod weighted_kappa;

use serde::Serialize;
use thiserror::Error;

/// The factor these measures are published with: 1.96 standard deviations on
/// either side hold 95 % of a normal distribution.
pub const TWO_SIDED_95: f64 = 1.96;

/// A two-sided 95 % confidence interval. JSON: `[low, high]`, an unbounded
/// end as `null`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(into = "[f64; 2]")]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

impl Interval {
    /// The interval `centre ± half_width`.
    pub fn around(centre: f64, half_width: f64) -> Self {
        Self {
            low: centre - half_width,
            high: centre + half_width,
        }
    }
}

impl From<Interval> for [f64; 2] {
    fn from(interval: Interval) -> Self {
        [interval.low, interval.high]
    }
}

/// Why a measure of agreement cannot be had.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum AgreementError {
    #[error("{measure} needs at least {needed} {what}, the data have {found}")]
    TooFew {
        measure: &'static str,
        what: &'static str,
        needed: usize,
        found: usize,
    },
    #[error(
        "subject {subject} has {found} ratings, others have {expected}: every rater must rate every subject"
    )]
    Ragged {
        subject: usize,
        found: usize,
        expected: usize,
    },
    #[error(
        "rating {rater} of subject {subject} is missing or not a finite number: every rater must rate every subject"
    )]
    Missing { subject: usize, rater: usize },
    #[error("the two series have {first} and {second} values: they must be paired")]
    Unpaired { first: usize, second: usize },
    #[error("a value is beyond 1e100: its square cannot be trusted")]
    TooLarge,
    #[error("{0}")]
    Undefined(&'static str),
}

/// Larger values are refused: sums of their squares overflow.
const LARGEST: f64 = 1e100;

/// Refuses series that are not finite pairs, or fewer than `needed` of them.
fn check_pairs(
    measure: &'static str,
    first: &[f64],
    second: &[f64],
    needed: usize,
) -> Result<(), AgreementError> {
    if first.len() != second.len() {
        return Err(AgreementError::Unpaired {
            first: first.len(),
            second: second.len(),
        });
    }
    if first.len() < needed {
        return Err(AgreementError::TooFew {
            measure,
            what: "subjects",
            needed,
            found: first.len(),
        });
    }
    let size = |values: &[f64]| values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    if size(first).max(size(second)) > LARGEST {
        return Err(AgreementError::TooLarge);
    }
    for (series, values) in [first, second].into_iter().enumerate() {
        if let Some(at) = values.iter().position(|v| !v.is_finite()) {
            return Err(AgreementError::Missing {
                subject: at + 1,
                rater: series + 1,
            });
        }
    }
    Ok(())
}
