//! The linear law of uncertainty (JCGM 100, 5.1): live values while dragging,
//! and the budget.

use super::intervals::Intervals;
use super::model::{Model, Scratch};
use crate::uncertainty::inputs::InputSet;
use crate::uncertainty::linear::{Contribution, LinearPropagation, LinearResult};

/// Best estimates of all outputs with what each input adds to them.
#[derive(Clone, Debug)]
pub struct LinearLaw {
    /// Outputs at the best estimates; NaN where they cannot be had.
    pub values: Vec<f64>,
    /// Slopes about [`Model::slope_point`].
    propagation: LinearPropagation,
}

impl LinearLaw {
    /// The best estimates alone, without uncertainty.
    pub fn values_only(model: &Model) -> Self {
        let mut values = vec![0.0; model.output_count()];
        model.evaluate_best(&mut Scratch::default(), &mut values);
        let propagation = LinearPropagation::unknown(values.len());
        Self {
            values,
            propagation,
        }
    }

    /// The law of a model whose inputs are [`Model::input_set`].
    pub fn of(model: &Model, inputs: &InputSet) -> Self {
        let Self { values, .. } = Self::values_only(model);
        let mut scratch = Scratch::default();
        let propagation = LinearPropagation::around(
            inputs,
            model.slope_point(),
            model.output_count(),
            |at, out| model.evaluate_possible(at, &mut scratch, out),
        );
        Self {
            values,
            propagation,
        }
    }

    fn result(&self, output: usize) -> Option<&LinearResult> {
        self.propagation.outputs[output].as_ref()
    }

    /// What each input adds to an output; none where its uncertainty is
    /// unknown.
    pub fn budget(&self, output: usize) -> &[Contribution] {
        self.result(output).map_or(&[], |result| &result.budget)
    }

    /// The intervals of all outputs: 95 % by the t distribution with the
    /// effective degrees of freedom (JCGM 100, G.4).
    pub fn intervals(&self) -> Intervals {
        let of_outputs = |of: fn(&LinearResult) -> Option<f64>| {
            let outputs = 0..self.values.len();
            outputs
                .map(|output| self.result(output).and_then(of).unwrap_or(f64::NAN))
                .collect()
        };
        Intervals {
            values: self.values.clone(),
            standard_uncertainties: of_outputs(|result| Some(result.standard_uncertainty)),
            u95: of_outputs(|result| result.expanded(0.95)),
            spans: vec![[f64::NAN; 2]; self.values.len()],
            missing_shares: vec![0.0; self.values.len()],
            draws: None,
        }
    }
}
