//! Why a chart cannot be drawn.

use thiserror::Error;

/// Most cases a chart is planned for.
pub const MOST_CASES: usize = 1000;

/// Why a chart cannot be drawn: one clear line.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LearningError {
    #[error(
        "the adequate failure rate ({adequate}) must lie below the inadequate one ({inadequate}), both between 0 and 1"
    )]
    Rates { adequate: f64, inadequate: f64 },
    #[error("the barrier must be a number above 0, not {0}")]
    Barrier(f64),
    #[error("the planned number of cases must be 1 to {most}, not {wanted}", most = MOST_CASES)]
    Cases { wanted: usize },
    #[error("{what} must be a number above 0, not {value}")]
    NotPositive { what: &'static str, value: f64 },
}
