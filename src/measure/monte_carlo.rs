//! The intervals that are kept: propagation of distributions by Monte Carlo
//! (JCGM 101) from the case's seed.
//!
//! Every input is drawn once per draw and every output of every canal is
//! worked out from it, so that ratios and differences of results are as
//! certain as they really are. The draws depend on the seed alone, not on the
//! number of threads.

use rayon::prelude::*;

use super::intervals::Intervals;
use super::model::{Model, OutputKind, Scratch};
use crate::progress::Progress;
use crate::statistics::{quantile, sample_sd};
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::monte_carlo::{Draws, Sampling, distances, draw_outputs, draw_until};

/// All outputs of a model in all draws, in the order of the model's outputs.
///
/// # Errors
/// Fewer draws than an interval can be read from; an input without a finite
/// value or spread; stopped through `progress`.
pub fn draws(
    model: &Model,
    settings: Sampling,
    progress: &Progress,
) -> Result<Draws, UncertaintyError> {
    draw_outputs(
        &model.input_set()?,
        model.output_count(),
        settings,
        progress,
        Scratch::default,
        |values, scratch, out| model.evaluate_possible(values, scratch, out),
    )
}

/// As [`draws`], but no more of them than settle the half width U of every
/// length and every angle about `values` (the adaptive procedure of JCGM 101,
/// 7.9). Radii and places of curves are not waited for: their tails are long,
/// and ten thousand draws settle them little better.
///
/// # Errors
/// As [`draws`].
pub fn draws_until_settled(
    model: &Model,
    values: &[f64],
    settings: Sampling,
    progress: &Progress,
) -> Result<Draws, UncertaintyError> {
    draw_until(
        &model.input_set()?,
        model.output_count(),
        settings,
        progress,
        Scratch::default,
        |values, scratch, out| model.evaluate_possible(values, scratch, out),
        |drawn| {
            let outputs = values.par_iter().enumerate();
            outputs.all(|(output, &value)| {
                let Some(tolerance) = numerical_tolerance(OutputKind::of(output)) else {
                    return true;
                };
                let deviations = drawn.deviations_from(output, value);
                deviations.is_none_or(|d| is_settled(&mut distances(d), tolerance))
            })
        },
    )
}

/// Share of U that twice its standard deviation may be; `None` where it is not
/// waited for. Of a length half a unit of the first significant digit of U
/// (JCGM 101, 7.9.2) even where that is a 9; of an angle twice as much.
fn numerical_tolerance(kind: OutputKind) -> Option<f64> {
    match kind {
        OutputKind::Length => Some(0.05),
        OutputKind::Angle => Some(0.10),
        OutputKind::CurvePlace => None,
    }
}

/// Whether twice the standard deviation of the 95 % quantile of `distances` is
/// at most this share of it. It is half the distance between the order
/// statistics two binomial standard deviations below and above the quantile;
/// unlike the spread between blocks, that is well known after the first block.
fn is_settled(distances: &mut [f64], tolerance: f64) -> bool {
    let p: f64 = 0.95;
    let two_sd = 2.0 * (p * (1.0 - p) / distances.len() as f64).sqrt();
    let mut at = |p: f64| quantile(distances, p).unwrap_or(f64::NAN);
    let (low, u95, high) = (at(p - two_sd), at(p), at(p + two_sd));
    0.5 * (high - low) <= tolerance * u95
}

impl Intervals {
    /// The intervals about `values`, the outputs at the best estimates.
    ///
    /// U is read about the value shown, not about the middle of the draws: it
    /// then covers what noise adds on one side only, such as the length that
    /// uneven clicks add to a curve.
    pub fn from_draws(values: Vec<f64>, draws: &Draws) -> Self {
        let of_output = |(output, &value): (usize, &f64)| {
            let Some(deviations) = draws.deviations_from(output, value) else {
                return (f64::NAN, f64::NAN, 1.0, [f64::NAN; 2]);
            };
            let missing = 1.0 - deviations.len() as f64 / draws.draw_count() as f64;
            let sd = sample_sd(&deviations);
            let mut sorted = deviations.clone();
            let span = [0.025, 0.975].map(|p| value + quantile(&mut sorted, p).unwrap_or(f64::NAN));
            let u95 = quantile(&mut distances(deviations), 0.95);
            (sd, u95.unwrap_or(f64::NAN), missing, span)
        };
        let found: Vec<_> = values.par_iter().enumerate().map(of_output).collect();
        Self {
            standard_uncertainties: found.iter().map(|f| f.0).collect(),
            u95: found.iter().map(|f| f.1).collect(),
            spans: found.iter().map(|f| f.3).collect(),
            missing_shares: found.iter().map(|f| f.2).collect(),
            draws: Some(draws.draw_count()),
            values,
        }
    }
}
