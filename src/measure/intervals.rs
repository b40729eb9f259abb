//! What is known of every output of a model: best estimate and 95 % interval.

/// One entry per output, in the model's order and units.
#[derive(Clone, Debug, PartialEq)]
pub struct Intervals {
    /// Best estimates; NaN where an output cannot be had.
    pub values: Vec<f64>,
    /// Standard uncertainties.
    pub standard_uncertainties: Vec<f64>,
    /// U of "value ± U": half the width of the interval about the value that
    /// holds 95 % of what the inputs make possible; NaN where unknown.
    pub u95: Vec<f64>,
    /// Share of the possible inputs, 0–1, for which the output does not exist;
    /// U speaks of the others.
    pub missing_shares: Vec<f64>,
    /// Monte Carlo draws they rest on; `None` for the linear law.
    pub draws: Option<usize>,
}
