//! The linear law of uncertainty (JCGM 100, 5.1): live values while dragging,
//! and the budget.

use super::model::{Model, Scratch};

/// Best estimates of all outputs with their sensitivities.
#[derive(Clone, Debug)]
pub struct LinearLaw {
    /// Outputs at the best estimates; NaN where they cannot be had.
    pub values: Vec<f64>,
    /// Contribution c·u of each input to each output, in the output's unit:
    /// `contributions[input][output]`.
    pub contributions: Vec<Vec<f64>>,
}

/// Coverage factor of a 95 % interval of a Gaussian quantity (JCGM 100,
/// table G.1).
const COVERAGE_FACTOR_95: f64 = 1.959_964;

impl LinearLaw {
    /// Differences each input by ± its standard uncertainty, which measures
    /// the mean slope over the interval that matters (JCGM 100, 5.1.3 note 2).
    pub fn of(model: &Model) -> Self {
        let mut scratch = Scratch::default();
        let mut point = model.nominal().to_vec();
        let mut values = vec![0.0; model.output_count()];
        model.evaluate(&point, &mut scratch, &mut values);

        let (mut above, mut below) = (values.clone(), values.clone());
        let mut contributions = Vec::with_capacity(point.len());
        for input in 0..point.len() {
            let u = model.standard_uncertainties[input];
            let nominal = point[input];
            point[input] = nominal + u;
            model.evaluate(&point, &mut scratch, &mut above);
            point[input] = nominal - u;
            model.evaluate(&point, &mut scratch, &mut below);
            point[input] = nominal;
            let halves = above.iter().zip(&below).map(|(a, b)| (a - b) / 2.0);
            // A construction that vanishes on one side has no slope there.
            contributions.push(
                halves
                    .map(|c| if c.is_finite() { c } else { 0.0 })
                    .collect(),
            );
        }
        Self {
            values,
            contributions,
        }
    }

    /// Combined standard uncertainty of an output: all inputs are independent.
    pub fn standard_uncertainty(&self, output: usize) -> f64 {
        let squares = self.contributions.iter().map(|c| c[output].powi(2));
        squares.sum::<f64>().sqrt()
    }

    /// Expanded uncertainty of an output, 95 %.
    pub fn u95(&self, output: usize) -> f64 {
        COVERAGE_FACTOR_95 * self.standard_uncertainty(output)
    }
}
