//! The intervals that are kept: propagation of distributions by Monte Carlo
//! (JCGM 101) from the case's seed.
//!
//! Every input is drawn once per draw and every output of every canal is
//! worked out from it, so that ratios and differences of results are as
//! certain as they really are. The draws depend on the seed alone, not on the
//! number of threads.

use rayon::prelude::*;

use super::inputs::Spread;
use super::intervals::Intervals;
use super::model::{Model, Scratch};
use crate::statistics::{quantile, sample_sd};
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::Shape;
use crate::uncertainty::monte_carlo::{Draws, FEWEST_DRAWS, Monitor, Settings, draw_outputs};

/// All outputs of a model in all draws, in the order of the model's outputs.
///
/// # Errors
/// Fewer draws than an interval can be read from; an input without a finite
/// value or spread; stopped through `monitor`.
pub fn draws(
    model: &Model,
    settings: Settings,
    monitor: &Monitor,
) -> Result<Draws, UncertaintyError> {
    draw_outputs(
        &model.input_set()?,
        model.output_count(),
        settings,
        monitor,
        Scratch::default,
        |values, scratch, out| model.evaluate_possible(values, scratch, out),
    )
}

impl From<Spread> for Shape {
    fn from(spread: Spread) -> Self {
        match spread {
            Spread::Normal(sd) => Shape::Normal { sd },
            Spread::Rectangular(half_width) => Shape::Rectangular { half_width },
        }
    }
}

impl Intervals {
    /// The intervals about `values`, the outputs at the best estimates.
    ///
    /// U is read about the value shown, not about the middle of the draws: it
    /// then covers what noise adds on one side only, such as the length that
    /// uneven clicks add to a curve.
    pub fn from_draws(values: Vec<f64>, draws: &Draws) -> Self {
        let of_output = |(output, &value): (usize, &f64)| {
            let unknown = (f64::NAN, f64::NAN, 1.0);
            if !value.is_finite() {
                return unknown;
            }
            let mut deviations = draws.output(output).unwrap_or_default();
            for deviation in &mut deviations {
                *deviation -= value;
            }
            deviations.retain(|d| d.is_finite());
            if deviations.len() < FEWEST_DRAWS {
                return unknown;
            }
            let missing = 1.0 - deviations.len() as f64 / draws.draw_count() as f64;
            let sd = sample_sd(&deviations);
            for deviation in &mut deviations {
                *deviation = deviation.abs();
            }
            let u95 = quantile(&mut deviations, 0.95);
            (sd, u95.unwrap_or(f64::NAN), missing)
        };
        let found: Vec<_> = values.par_iter().enumerate().map(of_output).collect();
        Self {
            standard_uncertainties: found.iter().map(|f| f.0).collect(),
            u95: found.iter().map(|f| f.1).collect(),
            missing_shares: found.iter().map(|f| f.2).collect(),
            values,
        }
    }
}
