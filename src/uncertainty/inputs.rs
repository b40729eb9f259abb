//! Input quantities: best estimate, distribution, correlation.

use std::collections::BTreeMap;

use nalgebra::{Cholesky, DMatrix};
use rand::RngExt;
use rand_distr::{ChiSquared, Distribution as _, StandardNormal};

use super::UncertaintyError;
use crate::statistics::{mean, sample_sd};

/// How the possible values of an input lie about its best estimate, in the
/// input's unit (JCGM 100, 4.3; JCGM 101, 6.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Normal with this standard deviation.
    Normal { sd: f64 },
    /// Equally likely within ± `half_width`; u = a/√3.
    Rectangular { half_width: f64 },
    /// Triangular within ± `half_width`; u = a/√6.
    Triangular { half_width: f64 },
    /// Arcsine within ± `half_width`, as of a cycling quantity; u = a/√2.
    UShaped { half_width: f64 },
    /// Rounded to a display of this step: rectangular ± step/2; u = step/√12.
    Resolution { step: f64 },
    /// Scaled and shifted t of an average of readings; JCGM 100 takes the
    /// `scale` as standard uncertainty, JCGM 101 draws from t (6.4.9).
    ScaledT { scale: f64, dof: f64 },
}

impl Shape {
    /// Standard uncertainty (JCGM 100, 4.3).
    pub fn standard_uncertainty(self) -> f64 {
        match self {
            Shape::Normal { sd } => sd,
            Shape::Rectangular { half_width } => half_width / 3.0_f64.sqrt(),
            Shape::Triangular { half_width } => half_width / 6.0_f64.sqrt(),
            Shape::UShaped { half_width } => half_width / 2.0_f64.sqrt(),
            Shape::Resolution { step } => step / 12.0_f64.sqrt(),
            Shape::ScaledT { scale, .. } => scale,
        }
    }

    /// The number that scales the distribution, as it was given.
    fn spread(self) -> f64 {
        match self {
            Shape::Normal { sd: spread }
            | Shape::Rectangular { half_width: spread }
            | Shape::Triangular { half_width: spread }
            | Shape::UShaped { half_width: spread }
            | Shape::Resolution { step: spread }
            | Shape::ScaledT { scale: spread, .. } => spread,
        }
    }
}

/// One input quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it is, for the budget.
    pub name: String,
    /// Best estimate.
    pub value: f64,
    pub shape: Shape,
    /// Degrees of freedom of the uncertainty itself; infinite when it is
    /// taken as exactly known.
    pub dof: f64,
    /// Number of the estimated standard deviation that the uncertainty rests
    /// on. Inputs of one estimate are uncertain by too much or too little
    /// together; `None`: an estimate of its own.
    pub estimate: Option<usize>,
}

impl Input {
    /// An input whose uncertainty is taken as exactly known.
    pub fn new(name: impl Into<String>, value: f64, shape: Shape) -> Self {
        let dof = match shape {
            Shape::ScaledT { dof, .. } => dof,
            _ => f64::INFINITY,
        };
        Self {
            name: name.into(),
            value,
            shape,
            dof,
            estimate: None,
        }
    }

    /// A normal input of standard uncertainty `sd`.
    pub fn normal(name: impl Into<String>, value: f64, sd: f64) -> Self {
        Self::new(name, value, Shape::Normal { sd })
    }

    /// The same input with degrees of freedom for its uncertainty.
    pub fn with_dof(mut self, dof: f64) -> Self {
        self.dof = dof;
        self
    }

    /// The same input, resting on the estimate of that number.
    pub fn of_estimate(mut self, estimate: usize) -> Self {
        self.estimate = Some(estimate);
        self
    }

    /// Standard uncertainty.
    pub fn standard_uncertainty(&self) -> f64 {
        self.shape.standard_uncertainty()
    }
}

/// Degrees of freedom of a standard uncertainty that is itself believed to
/// the relative standard uncertainty `reliability` (JCGM 100, G.3).
pub fn dof_from_reliability(reliability: f64) -> f64 {
    0.5 / (reliability * reliability)
}

/// A quantity read several times (JCGM 100, 4.2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Readings {
    pub count: usize,
    pub mean: f64,
    /// Experimental standard deviation of one reading.
    pub sd: f64,
}

impl Readings {
    /// Mean and spread of readings; `None` for fewer than two or one that is
    /// not finite.
    pub fn new(readings: &[f64]) -> Option<Self> {
        let usable = readings.len() >= 2 && readings.iter().all(|r| r.is_finite());
        usable.then(|| Self {
            count: readings.len(),
            mean: mean(readings),
            sd: sample_sd(readings),
        })
    }

    /// Standard uncertainty of the mean, s/√n.
    pub fn standard_uncertainty(&self) -> f64 {
        self.sd / (self.count as f64).sqrt()
    }

    /// Degrees of freedom, n − 1.
    pub fn dof(&self) -> f64 {
        (self.count - 1) as f64
    }

    /// The mean as an input.
    pub fn as_input(&self, name: impl Into<String>) -> Input {
        let shape = Shape::ScaledT {
            scale: self.standard_uncertainty(),
            dof: self.dof(),
        };
        Input::new(name, self.mean, shape)
    }
}

/// All inputs of a measurement. An input that several results share stands
/// here once and is drawn once.
#[derive(Clone, Debug, Default)]
pub struct InputSet {
    inputs: Vec<Input>,
    correlations: Vec<Correlation>,
    /// Lower triangle L with L·Lᵀ the correlation matrix of the correlated
    /// inputs, and their indices.
    correlated: Option<(Vec<usize>, DMatrix<f64>)>,
}

/// Correlation coefficient of two inputs, by their places in the set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correlation {
    pub first: usize,
    pub second: usize,
    pub coefficient: f64,
}

impl InputSet {
    /// Independent inputs.
    ///
    /// # Errors
    /// A value that is not finite; a spread that is negative or not finite;
    /// degrees of freedom that are not positive, or differ between inputs of
    /// one estimate.
    pub fn new(inputs: Vec<Input>) -> Result<Self, UncertaintyError> {
        Self::correlated(inputs, Vec::new())
    }

    /// Inputs of which some are correlated; pairs not named are independent.
    ///
    /// # Errors
    /// As [`InputSet::new`]; a coefficient outside ±1, of an input with
    /// itself, or correlations that cannot hold together.
    pub fn correlated(
        inputs: Vec<Input>,
        correlations: Vec<Correlation>,
    ) -> Result<Self, UncertaintyError> {
        for input in &inputs {
            let spread = input.shape.spread();
            if !input.value.is_finite() {
                return Err(UncertaintyError::NotFinite(input.name.clone()));
            }
            if !(spread.is_finite() && spread >= 0.0) {
                return Err(UncertaintyError::Spread(input.name.clone()));
            }
            let shape_dof = match input.shape {
                Shape::ScaledT { dof, .. } => dof,
                _ => input.dof,
            };
            let same_estimate =
                |other: &&Input| input.estimate.is_some() && other.estimate == input.estimate;
            let disagrees = inputs
                .iter()
                .find(same_estimate)
                .is_some_and(|first| first.dof != input.dof);
            // Written so that NaN fails.
            if !(input.dof > 0.0 && shape_dof > 0.0) || disagrees {
                return Err(UncertaintyError::Dof(input.name.clone()));
            }
        }
        let correlated = match correlations.is_empty() {
            true => None,
            false => Some(correlation_factor(inputs.len(), &correlations)?),
        };
        Ok(Self {
            inputs,
            correlations,
            correlated,
        })
    }

    /// The inputs in order.
    pub fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    /// The named correlations.
    pub fn correlations(&self) -> &[Correlation] {
        &self.correlations
    }

    /// Best estimates in order.
    pub fn values(&self) -> Vec<f64> {
        self.inputs.iter().map(|input| input.value).collect()
    }

    /// What draws values of these inputs.
    ///
    /// # Errors
    /// A correlated input that is not normal.
    pub fn sampler(&self) -> Result<Sampler, UncertaintyError> {
        let mut sources = Vec::with_capacity(self.inputs.len());
        let mut estimates = Vec::new();
        let mut place_of: BTreeMap<usize, usize> = BTreeMap::new();
        for input in &self.inputs {
            let source = match input.shape {
                Shape::ScaledT { scale, dof } if dof.is_finite() => {
                    let known = input.estimate.and_then(|e| place_of.get(&e).copied());
                    let place = known.unwrap_or(estimates.len());
                    if known.is_none() {
                        let squares = ChiSquared::new(dof)
                            .map_err(|_| UncertaintyError::Dof(input.name.clone()))?;
                        estimates.push((dof, squares));
                        place_of.extend(input.estimate.map(|e| (e, place)));
                    }
                    Source::ScaledT { scale, place }
                }
                shape => Source::of_known(shape),
            };
            sources.push((input.value, source));
        }
        let mut factor = None;
        if let Some((members, lower)) = &self.correlated {
            for &member in members {
                let input = &self.inputs[member];
                let Shape::Normal { sd } = input.shape else {
                    return Err(UncertaintyError::CorrelatedShape(input.name.clone()));
                };
                sources[member].1 = Source::Correlated { sd };
            }
            factor = Some((members.clone(), lower.clone()));
        }
        Ok(Sampler {
            sources,
            estimates,
            factor,
        })
    }
}

/// Indices of the correlated inputs and the Cholesky factor of their
/// correlation matrix.
fn correlation_factor(
    count: usize,
    correlations: &[Correlation],
) -> Result<(Vec<usize>, DMatrix<f64>), UncertaintyError> {
    for c in correlations {
        let in_set = c.first < count && c.second < count && c.first != c.second;
        if !(in_set && c.coefficient.abs() <= 1.0) {
            return Err(UncertaintyError::Correlation {
                first: c.first,
                second: c.second,
            });
        }
    }
    let mut members: Vec<usize> = correlations
        .iter()
        .flat_map(|c| [c.first, c.second])
        .collect();
    members.sort_unstable();
    members.dedup();
    let place = |input: usize| members.partition_point(|&member| member < input);
    let mut matrix = DMatrix::identity(members.len(), members.len());
    for c in correlations {
        let (row, column) = (place(c.first), place(c.second));
        matrix[(row, column)] = c.coefficient;
        matrix[(column, row)] = c.coefficient;
    }
    // A hair on the diagonal lets full correlation (±1) through.
    for i in 0..members.len() {
        matrix[(i, i)] += 1e-12;
    }
    let factor = Cholesky::new(matrix).ok_or(UncertaintyError::NotPositiveDefinite)?;
    Ok((members, factor.l()))
}

/// Draws values of all inputs of a set.
#[derive(Clone, Debug)]
pub struct Sampler {
    sources: Vec<(f64, Source)>,
    /// Degrees of freedom of each estimated standard deviation, and the
    /// distribution of its sum of squares.
    estimates: Vec<(f64, ChiSquared<f64>)>,
    factor: Option<(Vec<usize>, DMatrix<f64>)>,
}

#[derive(Clone, Copy, Debug)]
enum Source {
    Normal {
        sd: f64,
    },
    /// Filled from the correlated block after the others.
    Correlated {
        sd: f64,
    },
    Rectangular {
        half_width: f64,
    },
    Triangular {
        half_width: f64,
    },
    UShaped {
        half_width: f64,
    },
    ScaledT {
        scale: f64,
        /// Which of the sampler's estimates it rests on.
        place: usize,
    },
}

impl Source {
    /// What draws a distribution whose width is exactly known.
    fn of_known(shape: Shape) -> Self {
        match shape {
            Shape::Normal { sd } | Shape::ScaledT { scale: sd, .. } => Source::Normal { sd },
            Shape::Rectangular { half_width } => Source::Rectangular { half_width },
            Shape::Triangular { half_width } => Source::Triangular { half_width },
            Shape::UShaped { half_width } => Source::UShaped { half_width },
            Shape::Resolution { step } => Source::Rectangular {
                half_width: step / 2.0,
            },
        }
    }
}

impl Sampler {
    /// Number of inputs.
    pub fn input_count(&self) -> usize {
        self.sources.len()
    }

    /// Writes one draw of every input into `values`, in order. `factors` is
    /// memory reused from draw to draw.
    pub fn draw(&self, rng: &mut impl rand::Rng, factors: &mut Vec<f64>, values: &mut [f64]) {
        factors.clear();
        let estimates = self.estimates.iter();
        factors.extend(estimates.map(|(dof, squares)| (dof / squares.sample(rng)).sqrt()));
        for (value, (estimate, source)) in values.iter_mut().zip(&self.sources) {
            let normal = |rng: &mut _| -> f64 { StandardNormal.sample(rng) };
            let deviation = match *source {
                Source::Normal { sd } => sd * normal(rng),
                Source::Correlated { .. } => normal(rng),
                Source::Rectangular { half_width } => {
                    half_width * (2.0 * rng.random::<f64>() - 1.0)
                }
                Source::Triangular { half_width } => {
                    half_width * (rng.random::<f64>() - rng.random::<f64>())
                }
                Source::UShaped { half_width } => {
                    half_width * (std::f64::consts::TAU * rng.random::<f64>()).sin()
                }
                Source::ScaledT { scale, place } => scale * normal(rng) * factors[place],
            };
            *value = match source {
                Source::Correlated { .. } => deviation,
                _ => estimate + deviation,
            };
        }
        if let Some((members, lower)) = &self.factor {
            // From the last row up, so that each still finds what it needs.
            for row in (0..members.len()).rev() {
                let mixed: f64 = (0..=row)
                    .map(|column| lower[(row, column)] * values[members[column]])
                    .sum();
                let (estimate, source) = self.sources[members[row]];
                let Source::Correlated { sd } = source else {
                    continue;
                };
                values[members[row]] = estimate + sd * mixed;
            }
        }
    }
}
