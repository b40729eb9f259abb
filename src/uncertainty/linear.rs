//! The linear law of propagation (JCGM 100:2008, clause 5) with budget,
//! effective degrees of freedom (G.4) and expanded uncertainty (clause 6).
//!
//! Taken from a model, it also carries each input's own term of second order
//! (5.1.2 note): an input such as an angle to a plane, whose slope is zero
//! where it is thought to be, would count for nothing without it. Products of
//! two inputs are left to Monte Carlo.

use std::collections::BTreeMap;
use std::f64::consts::FRAC_1_SQRT_2;

use super::{UncertaintyError, inputs::InputSet};
use crate::statistics::t_quantile;

/// Step of the numerical sensitivities in standard uncertainties of the
/// input: one on either side (JCGM 100, 5.1.3 note 2), so that the slope is
/// that across the values the input may really take.
pub const STEP_IN_UNCERTAINTIES: f64 = 1.0;

/// One output with its uncertainty and what it is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearResult {
    /// Value at the inputs' best estimates.
    pub value: f64,
    /// Combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom (Welch–Satterthwaite). `None` when inputs
    /// of finite degrees of freedom are correlated: the formula does not hold.
    pub effective_dof: Option<f64>,
    /// One line per input, in order.
    pub budget: Vec<Contribution>,
}

/// What one input adds to one output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// Sensitivity coefficient ∂output/∂input.
    pub sensitivity: f64,
    /// Sensitivity × standard uncertainty with its sign, the input's own term
    /// of second order added as a square; output's unit.
    pub contribution: f64,
    /// Part of the output's variance, adding up to 1 over all inputs. A
    /// correlated input is charged half of each of its covariances, so that
    /// its share may be negative. 0 throughout when nothing is uncertain.
    pub share: f64,
}

impl LinearResult {
    /// From the value and its sensitivities to every input.
    ///
    /// # Errors
    /// As many sensitivities as inputs are needed.
    pub fn from_sensitivities(
        value: f64,
        sensitivities: &[f64],
        inputs: &InputSet,
    ) -> Result<Self, UncertaintyError> {
        let list = inputs.inputs();
        if sensitivities.len() != list.len() {
            return Err(UncertaintyError::SensitivityCount {
                expected: list.len(),
                found: sensitivities.len(),
            });
        }
        Ok(Self::with_bows(value, sensitivities, &[], inputs))
    }

    /// `bows` are f(x + u) + f(x − u) − 2 f(x) of each input, none: 0.
    fn with_bows(value: f64, sensitivities: &[f64], bows: &[f64], inputs: &InputSet) -> Self {
        let list = inputs.inputs();
        let linear: Vec<f64> = list
            .iter()
            .zip(sensitivities)
            .map(|(input, c)| c * input.standard_uncertainty())
            .collect();
        let second_order = |i: usize| bows.get(i).map_or(0.0, |bow| bow * FRAC_1_SQRT_2);
        let mut variances = variance_parts(&linear, &linear, inputs);
        for (i, part) in variances.iter_mut().enumerate() {
            *part += second_order(i).powi(2);
        }
        // Full negative correlation may leave a rounding error below zero.
        let variance = variances.iter().sum::<f64>().max(0.0);
        let parts: Vec<f64> = linear
            .iter()
            .enumerate()
            .map(|(i, part)| part.hypot(second_order(i)).copysign(*part))
            .collect();
        let budget = (0..list.len())
            .map(|i| Contribution {
                sensitivity: sensitivities[i],
                contribution: parts[i],
                share: if variance > 0.0 {
                    variances[i] / variance
                } else {
                    0.0
                },
            })
            .collect();
        Self {
            value,
            standard_uncertainty: variance.sqrt(),
            effective_dof: effective_dof(&parts, variance, inputs),
            budget,
        }
    }

    /// Expanded uncertainty for a coverage `probability`: the t quantile at
    /// the effective degrees of freedom (not cut to whole numbers) times the
    /// standard uncertainty. `None` where the degrees of freedom are unknown.
    pub fn expanded(&self, probability: f64) -> Option<f64> {
        Some(coverage_factor(probability, self.effective_dof?)? * self.standard_uncertainty)
    }

    /// Shares of the variance summed by group; `group_of` names each input's
    /// group, 0 to `groups` − 1.
    pub fn grouped_shares(&self, groups: usize, group_of: impl Fn(usize) -> usize) -> Vec<f64> {
        let mut shares = vec![0.0; groups];
        for (input, line) in self.budget.iter().enumerate() {
            if let Some(share) = shares.get_mut(group_of(input)) {
                *share += line.share;
            }
        }
        shares
    }
}

/// Coverage factor k: half the interval that holds `probability` of t with
/// `dof` degrees of freedom (JCGM 100, G.3). Printed tables cut `dof` to a
/// whole number first.
pub fn coverage_factor(probability: f64, dof: f64) -> Option<f64> {
    t_quantile(0.5 * (1.0 + probability), dof)
}

/// The terms of u(y₁, y₂) = Σ cᵢ₁ cᵢ₂ uᵢ² + Σ (cᵢ₁ cⱼ₂ + cⱼ₁ cᵢ₂) uᵢ uⱼ rᵢⱼ,
/// gathered by input, each covariance split between its two inputs.
fn variance_parts(first: &[f64], second: &[f64], inputs: &InputSet) -> Vec<f64> {
    let mut parts: Vec<f64> = first.iter().zip(second).map(|(a, b)| a * b).collect();
    for c in inputs.correlations() {
        let (i, j) = (c.first, c.second);
        let half = 0.5 * c.coefficient * (first[i] * second[j] + first[j] * second[i]);
        parts[i] += half;
        parts[j] += half;
    }
    parts
}

fn effective_dof(parts: &[f64], variance: f64, inputs: &InputSet) -> Option<f64> {
    let list = inputs.inputs();
    let finite = |i: usize| list[i].dof.is_finite() && parts[i] != 0.0;
    let correlated = |c: &super::inputs::Correlation| c.coefficient != 0.0;
    if inputs
        .correlations()
        .iter()
        .any(|c| correlated(c) && (finite(c.first) || finite(c.second)))
    {
        return None;
    }
    // Inputs of one estimate are too large or too small together: their
    // squares are added before the formula takes the fourth power.
    let mut pooled: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    let mut divisor = 0.0;
    for (part, input) in parts.iter().zip(list) {
        match input.estimate {
            Some(estimate) => pooled.entry(estimate).or_insert((0.0, input.dof)).0 += part * part,
            None => divisor += part.powi(4) / input.dof,
        }
    }
    divisor += pooled
        .values()
        .map(|(square, dof)| square * square / dof)
        .sum::<f64>();
    Some(if divisor > 0.0 {
        variance * variance / divisor
    } else {
        f64::INFINITY
    })
}

/// Linear propagation of all outputs of a model at once.
#[derive(Clone, Debug)]
pub struct LinearPropagation {
    /// One entry per output; `None` where the model gave no finite value at
    /// the best estimates or around them.
    pub outputs: Vec<Option<LinearResult>>,
    inputs: InputSet,
}

impl LinearPropagation {
    /// Of a model whose uncertainty was not asked for.
    pub fn unknown(output_count: usize) -> Self {
        Self {
            outputs: vec![None; output_count],
            inputs: InputSet::default(),
        }
    }

    /// Slopes by central differences of `model` over ± one standard
    /// uncertainty. It fills `output_count` outputs from the inputs (NaN: not
    /// to be had). Costs two evaluations per uncertain input and one more.
    /// Where one side has no value, the other side's difference is taken.
    pub fn of_model(
        inputs: &InputSet,
        output_count: usize,
        model: impl FnMut(&[f64], &mut [f64]),
    ) -> Self {
        Self::around(inputs, inputs.values(), output_count, model)
    }

    /// Like [`LinearPropagation::of_model`], with values and slopes taken
    /// `at` other values than the inputs' best estimates.
    pub fn around(
        inputs: &InputSet,
        mut at: Vec<f64>,
        output_count: usize,
        mut model: impl FnMut(&[f64], &mut [f64]),
    ) -> Self {
        let mut centre = vec![f64::NAN; output_count];
        model(&at, &mut centre);
        let (mut above, mut below) = (centre.clone(), centre.clone());
        let mut sensitivities = vec![vec![0.0; inputs.inputs().len()]; output_count];
        let mut bows = sensitivities.clone();
        for (i, input) in inputs.inputs().iter().enumerate() {
            let middle = at[i];
            let step = STEP_IN_UNCERTAINTIES * input.standard_uncertainty();
            let (low, high) = (middle - step, middle + step);
            if high == low {
                continue;
            }
            for (side, outputs) in [(high, &mut above), (low, &mut below)] {
                at[i] = side;
                outputs.fill(f64::NAN);
                model(&at, outputs);
            }
            at[i] = middle;
            for output in 0..output_count {
                let (up, down) = (above[output], below[output]);
                sensitivities[output][i] = if up.is_finite() && down.is_finite() {
                    bows[output][i] = up + down - 2.0 * centre[output];
                    (up - down) / (high - low)
                } else if up.is_finite() {
                    (up - centre[output]) / (high - middle)
                } else {
                    (centre[output] - down) / (middle - low)
                };
            }
        }
        let outputs = centre
            .iter()
            .zip(sensitivities.iter().zip(&bows))
            .map(|(&value, (row, bows))| {
                let known = value.is_finite() && row.iter().all(|c| c.is_finite());
                known.then(|| LinearResult::with_bows(value, row, bows, inputs))
            })
            .collect();
        Self {
            outputs,
            inputs: inputs.clone(),
        }
    }

    /// Correlation of two outputs through the inputs they share; `None` where
    /// either is unknown or certain.
    pub fn correlation(&self, first: usize, second: usize) -> Option<f64> {
        let of = |output: usize| self.outputs.get(output)?.as_ref();
        let (a, b) = (of(first)?, of(second)?);
        let parts = |result: &LinearResult| -> Vec<f64> {
            let lines = result.budget.iter().zip(self.inputs.inputs());
            lines
                .map(|(line, input)| line.sensitivity * input.standard_uncertainty())
                .collect()
        };
        let covariance: f64 = variance_parts(&parts(a), &parts(b), &self.inputs)
            .iter()
            .sum();
        let product = a.standard_uncertainty * b.standard_uncertainty;
        (product > 0.0).then(|| (covariance / product).clamp(-1.0, 1.0))
    }
}
