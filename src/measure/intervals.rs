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
    /// 2.5 % and 97.5 % quantiles; NaN where unknown.
    pub spans: Vec<[f64; 2]>,
    /// Share of the possible inputs, 0–1, for which the output does not exist;
    /// U speaks of the others.
    pub missing_shares: Vec<f64>,
    /// Monte Carlo draws they rest on; `None` for the linear law.
    pub draws: Option<usize>,
}

impl Intervals {
    /// Of values whose uncertainty was not asked for: every U is 0.
    pub fn of_values(values: Vec<f64>) -> Self {
        let none = vec![0.0; values.len()];
        Self {
            spans: vec![[f64::NAN; 2]; values.len()],
            values,
            standard_uncertainties: none.clone(),
            u95: none.clone(),
            missing_shares: none,
            draws: None,
        }
    }
}
