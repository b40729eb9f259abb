//! Uncertainty of measurement: the linear law of JCGM 100:2008 for values
//! that must be there at once, Monte Carlo of JCGM 101:2008 for those that
//! are kept, and rounding for display. Nothing here knows of canals.

pub mod inputs;
pub mod linear;
pub mod monte_carlo;
pub mod rounding;

use thiserror::Error;

/// Why an uncertainty cannot be worked out.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum UncertaintyError {
    #[error("input \"{0}\" has no finite value")]
    NotFinite(String),
    #[error("input \"{0}\": its uncertainty must be a finite number, zero or more")]
    Spread(String),
    #[error(
        "input \"{0}\": degrees of freedom must be positive, and the same for all inputs of one estimate"
    )]
    Dof(String),
    #[error(
        "the correlation of inputs {first} and {second} must lie between −1 and 1 and join two different inputs of the set"
    )]
    Correlation { first: usize, second: usize },
    #[error("the correlations contradict one another: no inputs can have them all at once")]
    NotPositiveDefinite,
    #[error(
        "input \"{0}\" is correlated and not normal: correlated draws are made for normal inputs only"
    )]
    CorrelatedShape(String),
    #[error("{found} sensitivities for {expected} inputs")]
    SensitivityCount { expected: usize, found: usize },
    #[error("Monte Carlo needs at least {needed} draws, {found} were asked for")]
    TooFewDraws { needed: usize, found: usize },
    #[error("stopped before it was done")]
    Cancelled,
}
