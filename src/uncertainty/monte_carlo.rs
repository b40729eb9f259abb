//! Propagation of distributions by Monte Carlo (JCGM 101:2008).
//!
//! All outputs come from the same draws, so that differences and ratios of
//! outputs are as certain as they really are. The draws depend on the seed
//! alone: they are made in chunks of fixed size, each from a ChaCha8 stream
//! of its own, whatever the number of threads.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::UncertaintyError;
use super::inputs::{InputSet, Sampler};
use crate::progress::{Progress, Steps};

/// Draws of one random stream. Part of what a seed means: a change makes
/// every stored result differ within its Monte Carlo error.
const CHUNK: usize = 256;

/// Draws after which an adaptive run first asks whether they are enough: whole
/// chunks, and no fewer than 100/(1 − 0.95) (JCGM 101, 7.9.4 b).
pub const FIRST_BLOCK: usize = 8 * CHUNK;

/// Draws after which it asks again.
pub const BLOCK: usize = 4 * CHUNK;

/// Fewest draws from which a 95 % interval can be read.
pub const FEWEST_DRAWS: usize = 100;

/// How much to draw, and from which seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampling {
    pub draws: usize,
    pub seed: u64,
}

impl Default for Sampling {
    /// 10,000 draws: a 95 % half width good to about 1 %.
    fn default() -> Self {
        Self {
            draws: 10_000,
            seed: 1,
        }
    }
}

/// Values of all outputs in all draws.
#[derive(Clone, Debug)]
pub struct Draws {
    outputs: usize,
    draws: usize,
    /// Chunk after chunk; within a chunk output after output.
    values: Vec<f64>,
}

/// Draws the inputs and works out the outputs of each draw.
///
/// `model(inputs, scratch, outputs)` fills `output_count` outputs; one that
/// cannot be had is NaN. Each worker makes one `scratch` for buffers: the
/// outputs must not depend on what an earlier draw left in it.
///
/// # Errors
/// Fewer than [`FEWEST_DRAWS`], correlated inputs that are not normal,
/// cancelled.
pub fn draw_outputs<S>(
    inputs: &InputSet,
    output_count: usize,
    settings: Sampling,
    progress: &Progress,
    scratch: impl Fn() -> S + Sync + Send,
    model: impl Fn(&[f64], &mut S, &mut [f64]) + Sync,
) -> Result<Draws, UncertaintyError> {
    let mut drawn = Draws::none(output_count);
    let drawer = Drawer::new(inputs, settings, progress)?;
    drawer.append(&mut drawn, settings.draws, &scratch, &model)?;
    Ok(drawn)
}

/// As [`draw_outputs`], [`FIRST_BLOCK`] draws and then blocks of [`BLOCK`] until
/// `is_settled` says of all draws so far that they are enough, or all of
/// `settings` are made
/// (the adaptive procedure of JCGM 101, 7.9). The draws are the first ones of
/// [`draw_outputs`].
///
/// # Errors
/// As [`draw_outputs`].
pub fn draw_until<S>(
    inputs: &InputSet,
    output_count: usize,
    settings: Sampling,
    progress: &Progress,
    scratch: impl Fn() -> S + Sync + Send,
    model: impl Fn(&[f64], &mut S, &mut [f64]) + Sync,
    is_settled: impl Fn(&Draws) -> bool,
) -> Result<Draws, UncertaintyError> {
    let mut drawn = Draws::none(output_count);
    let drawer = Drawer::new(inputs, settings, progress)?;
    loop {
        let upto = settings.draws.min((drawn.draws + BLOCK).max(FIRST_BLOCK));
        drawer.append(&mut drawn, upto, &scratch, &model)?;
        if upto == settings.draws || is_settled(&drawn) {
            return Ok(drawn);
        }
    }
}

/// What draws.
struct Drawer<'a> {
    sampler: Sampler,
    seed: u64,
    progress: &'a Progress<'a>,
    steps: Steps<'a>,
}

impl<'a> Drawer<'a> {
    fn new(
        inputs: &InputSet,
        settings: Sampling,
        progress: &'a Progress<'a>,
    ) -> Result<Self, UncertaintyError> {
        if settings.draws < FEWEST_DRAWS {
            return Err(UncertaintyError::TooFewDraws {
                needed: FEWEST_DRAWS,
                found: settings.draws,
            });
        }
        Ok(Self {
            sampler: inputs.sampler()?,
            seed: settings.seed,
            progress,
            steps: Steps::new(progress, settings.draws),
        })
    }

    /// Adds draws to the whole chunks of `drawn`, `upto` this number.
    fn append<S>(
        &self,
        drawn: &mut Draws,
        upto: usize,
        scratch: &(impl Fn() -> S + Sync + Send),
        model: &(impl Fn(&[f64], &mut S, &mut [f64]) + Sync),
    ) -> Result<(), UncertaintyError> {
        let (sampler, output_count) = (&self.sampler, drawn.outputs);
        let (progress, steps) = (self.progress, &self.steps);
        let (made, chunks_made) = (drawn.values.len(), drawn.draws / CHUNK);
        drawn.values.resize(upto * output_count, f64::NAN);
        drawn.values[made..]
            .par_chunks_mut((CHUNK * output_count).max(1))
            .enumerate()
            .try_for_each_init(
                || {
                    let inputs = vec![0.0; sampler.input_count()];
                    (inputs, Vec::new(), vec![0.0; output_count], scratch())
                },
                |(inputs, factors, outputs, scratch), (chunk, block)| {
                    if progress.is_cancelled() {
                        return Err(UncertaintyError::Cancelled);
                    }
                    let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
                    rng.set_stream((chunks_made + chunk) as u64);
                    let length = block.len() / output_count;
                    for draw in 0..length {
                        sampler.draw(&mut rng, factors, inputs);
                        outputs.fill(f64::NAN);
                        model(inputs, scratch, outputs);
                        for (output, &value) in outputs.iter().enumerate() {
                            block[output * length + draw] = value;
                        }
                    }
                    steps.advance(length);
                    Ok(())
                },
            )?;
        drawn.draws = upto;
        Ok(())
    }
}

/// What the draws say about one output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Draws that gave a value.
    pub present: usize,
    /// Share of draws that gave none, 0–1. Nothing below speaks of these: a
    /// share that is not small means the output often does not exist.
    pub missing_share: f64,
    /// Mean of the draws: the estimate of JCGM 101, 7.6.
    pub mean: f64,
    /// Standard deviation: the standard uncertainty of JCGM 101, 7.6.
    pub standard_uncertainty: f64,
    /// 2.5 % and 97.5 % quantiles: the probabilistically symmetric 95 %
    /// interval.
    pub symmetric: [f64; 2],
    /// The shortest 95 % interval (JCGM 101, 7.7).
    pub shortest: [f64; 2],
}

impl Summary {
    /// Half the width of the symmetric 95 % interval.
    pub fn u95(&self) -> f64 {
        0.5 * (self.symmetric[1] - self.symmetric[0])
    }
}

impl Draws {
    fn none(outputs: usize) -> Self {
        Self {
            outputs,
            draws: 0,
            values: Vec::new(),
        }
    }

    /// Number of outputs.
    pub fn output_count(&self) -> usize {
        self.outputs
    }

    /// Number of draws, those without a value included.
    pub fn draw_count(&self) -> usize {
        self.draws
    }

    /// One output in draw order, NaN where it could not be had; `None` for
    /// an output the model does not have.
    pub fn output(&self, output: usize) -> Option<Vec<f64>> {
        (output < self.outputs).then(|| {
            let blocks = self.values.chunks(CHUNK * self.outputs);
            blocks
                .flat_map(|block| {
                    let length = block.len() / self.outputs;
                    &block[output * length..][..length]
                })
                .copied()
                .collect()
        })
    }

    /// The finite values of one output, in draw order.
    fn present(&self, output: usize) -> Option<Vec<f64>> {
        let mut values = self.output(output)?;
        values.retain(|v| v.is_finite());
        Some(values)
    }

    /// What the draws say about one output; `None` when fewer than
    /// [`FEWEST_DRAWS`] gave a value.
    pub fn summary(&self, output: usize) -> Option<Summary> {
        let mut values = self.present(output)?;
        let present = values.len();
        if present < FEWEST_DRAWS {
            return None;
        }
        let n = present as f64;
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        let (symmetric, shortest) = intervals_95(&mut values);
        Some(Summary {
            present,
            missing_share: 1.0 - n / self.draws as f64,
            mean,
            standard_uncertainty: (squares / (n - 1.0)).sqrt(),
            symmetric,
            shortest,
        })
    }

    /// The summaries of all outputs, worked out side by side.
    pub fn summaries(&self) -> Vec<Option<Summary>> {
        let outputs = 0..self.outputs;
        outputs.into_par_iter().map(|i| self.summary(i)).collect()
    }

    /// How far one output lies from `value` in every draw that gave it.
    /// `None` for a `value` that is not finite and when fewer than
    /// [`FEWEST_DRAWS`] gave a value.
    pub fn deviations_from(&self, output: usize, value: f64) -> Option<Vec<f64>> {
        if !value.is_finite() {
            return None;
        }
        let mut deviations = self.present(output)?;
        for deviation in &mut deviations {
            *deviation -= value;
        }
        (deviations.len() >= FEWEST_DRAWS).then_some(deviations)
    }

    /// Pearson's correlation of two outputs over the draws that gave both.
    pub fn correlation(&self, first: usize, second: usize) -> Option<f64> {
        let (a, b) = (self.output(first)?, self.output(second)?);
        let both = |(a, b): &(f64, f64)| a.is_finite() && b.is_finite();
        let (a, b): (Vec<f64>, Vec<f64>) = a.into_iter().zip(b).filter(both).unzip();
        crate::statistics::correlation(&a, &b)
    }
}

/// Sizes of deviations. Their 95 % quantile is the U of "value ± U" when the
/// value shown is not the draws' own middle.
pub fn distances(mut deviations: Vec<f64>) -> Vec<f64> {
    for deviation in &mut deviations {
        *deviation = deviation.abs();
    }
    deviations
}

/// Symmetric and shortest 95 % intervals of at least [`FEWEST_DRAWS`] values,
/// which are reordered. Both lie within the outer 5 % of the order statistics
/// on either side, so that only those are sorted.
fn intervals_95(values: &mut [f64]) -> ([f64; 2], [f64; 2]) {
    let count = values.len();
    // JCGM 101, 7.7: an interval spans q steps of the ordered values.
    let inside = (0.95 * count as f64).round() as usize;
    let outside = count - inside;
    values.select_nth_unstable_by(outside, f64::total_cmp);
    values[..outside].sort_unstable_by(f64::total_cmp);
    values[outside..].select_nth_unstable_by(inside - outside, f64::total_cmp);
    values[inside..].sort_unstable_by(f64::total_cmp);
    let width = |low: usize| values[low + inside] - values[low];
    let narrowest = (0..outside)
        .min_by(|&a, &b| width(a).total_cmp(&width(b)))
        .unwrap_or(0);
    let ordered = |p: f64| {
        let position = p * (count - 1) as f64;
        let below = position.floor() as usize;
        let fraction = position - below as f64;
        values[below] + fraction * (values[below + 1] - values[below])
    };
    (
        [ordered(0.025), ordered(0.975)],
        [values[narrowest], values[narrowest + inside]],
    )
}
