//! The linear law of uncertainty (JCGM 100, 5.1): live values while dragging,
//! and the budget.

use super::intervals::Intervals;
use super::model::{Model, Scratch};
use crate::statistics::Z95;

/// Best estimates of all outputs with what each input adds to them.
#[derive(Clone, Debug)]
pub struct LinearLaw {
    /// Outputs at the best estimates; NaN where they cannot be had.
    pub values: Vec<f64>,
    /// Standard uncertainty that each input gives to each output, in the
    /// output's unit, with the sign of its slope:
    /// `contributions[input][output]`.
    pub contributions: Vec<Vec<f64>>,
}

impl LinearLaw {
    /// The best estimates alone: no input adds anything to them.
    pub fn values_only(model: &Model) -> Self {
        let mut values = vec![0.0; model.output_count()];
        model.evaluate(model.nominal(), &mut Scratch::default(), &mut values);
        Self {
            values,
            contributions: Vec::new(),
        }
    }

    /// Differences each input by ± its standard uncertainty, which measures
    /// the mean slope over the interval that matters (JCGM 100, 5.1.3 note 2).
    /// Each input's own term of second order is added (5.1.2 note): an input
    /// such as a lean, whose slope is zero where it is thought to be, would
    /// count for nothing without it.
    pub fn of(model: &Model) -> Self {
        let Self { values, .. } = Self::values_only(model);
        let mut scratch = Scratch::default();
        let mut point = model.slope_point();
        let mut centre = values.clone();
        model.evaluate(&point, &mut scratch, &mut centre);
        let (mut above, mut below) = (values.clone(), values.clone());
        let mut contributions = Vec::with_capacity(point.len());
        for input in 0..point.len() {
            let u = model.standard_uncertainties[input];
            let at = point[input];
            point[input] = at + u;
            model.evaluate(&point, &mut scratch, &mut above);
            point[input] = at - u;
            model.evaluate(&point, &mut scratch, &mut below);
            point[input] = at;
            let sides = above.iter().zip(&below).zip(&centre);
            contributions.push(sides.map(|((a, b), c)| contribution(*a, *b, *c)).collect());
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

    /// Expanded uncertainty of an output, 95 %, taken as Gaussian (JCGM 100,
    /// table G.1).
    pub fn u95(&self, output: usize) -> f64 {
        Z95 * self.standard_uncertainty(output)
    }

    /// The intervals of all outputs.
    pub fn intervals(&self) -> Intervals {
        let outputs = 0..self.values.len();
        Intervals {
            values: self.values.clone(),
            standard_uncertainties: outputs
                .clone()
                .map(|o| self.standard_uncertainty(o))
                .collect(),
            u95: outputs.map(|o| self.u95(o)).collect(),
            missing_shares: vec![0.0; self.values.len()],
        }
    }
}

/// What an input adds to an output that is `above` and `below` one standard
/// uncertainty from `centre`: √((slope·u)² + ½(curvature·u²)²).
///
/// A construction that vanishes on one side adds nothing.
fn contribution(above: f64, below: f64, centre: f64) -> f64 {
    let slope = (above - below) / 2.0;
    let bow = above + below - 2.0 * centre;
    let combined = slope.hypot(bow / std::f64::consts::SQRT_2).copysign(slope);
    if combined.is_finite() { combined } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::contribution;

    /// y = a x + b x², u(x) = 1: variance a² + 2 b² of a Gaussian x (JCGM 100,
    /// 5.1.2 note: ½ (∂²f/∂x²)² u⁴ with ∂²f/∂x² = 2b).
    #[test]
    fn a_parabola_has_its_second_order_term() {
        let y = |x: f64| -3.0 * x + 2.0 * x * x;
        let found = contribution(y(1.0), y(-1.0), y(0.0));
        assert!((found + (9.0_f64 + 8.0).sqrt()).abs() < 1e-12);
        assert_eq!(contribution(f64::NAN, 1.0, 1.0), 0.0);
    }
}
