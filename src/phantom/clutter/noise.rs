//! Noise besides the quanta, of several spectra.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::phantom::exposure::Intensities;

/// Spectra.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoiseSpectrum {
    /// Blurred over `grain_mm`: a reader's smoothing.
    Smooth,
    /// Equal power in every octave: structure of a phosphor plate.
    Octaves,
    /// Constant along rows: a scanning reader.
    Rows,
    /// Constant along columns and rows of one weave: gain of a sensor.
    Weave,
    /// Dense round grains: emulsion.
    Grains,
}

/// Noise of one spectrum.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NoiseSpec {
    /// Its spectrum.
    pub spectrum: NoiseSpectrum,
    /// Standard deviation, share of the range from black to white.
    pub amplitude: f64,
    /// Scale, mm.
    pub grain_mm: f64,
}

fn deviates(count: usize, seed: u64, stream: u64) -> Vec<f32> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(stream);
    (0..count)
        .map(|_| StandardNormal.sample(&mut rng))
        .collect()
}

/// `field` scaled to a standard deviation of `amplitude`, added to `grey`.
fn add_scaled(grey: &mut [f32], field: &[f32], amplitude: f64) {
    let square = field.iter().map(|v| f64::from(*v).powi(2)).sum::<f64>();
    let gain = amplitude / (square / field.len() as f64).sqrt().max(1e-12);
    for (g, f) in grey.iter_mut().zip(field) {
        *g += gain as f32 * f;
    }
}

/// Adds noise to `grey` (0 black to 1 white) of `width` columns of `pitch_mm`.
pub(in crate::phantom) fn add_noise(
    noise: &NoiseSpec,
    grey: &mut [f32],
    width: usize,
    pitch_mm: f64,
    seed: u64,
) {
    let height = grey.len() / width;
    let sigma_px = noise.grain_mm / pitch_mm;
    let blurred = |stream: u64, sigma: f64| {
        let values = deviates(grey.len(), seed, stream);
        Intensities { width, values }.blurred(sigma, sigma).values
    };
    let field = match noise.spectrum {
        NoiseSpectrum::Smooth => blurred(1, sigma_px),
        NoiseSpectrum::Octaves => {
            let mut sum = vec![0.0f32; grey.len()];
            for octave in 0..5 {
                let layer = blurred(10 + octave, sigma_px * f64::from(1u32 << octave));
                add_scaled(&mut sum, &layer, 1.0);
            }
            sum
        }
        NoiseSpectrum::Rows => {
            let rows = deviates(height, seed, 20);
            (0..grey.len()).map(|i| rows[i / width]).collect()
        }
        NoiseSpectrum::Weave => {
            let (rows, columns) = (deviates(height, seed, 30), deviates(width, seed, 31));
            let cell = sigma_px.max(1.0) as usize;
            (0..grey.len())
                .map(|i| {
                    let (x, y) = (i % width, i / width);
                    rows[y]
                        + columns[x]
                        + if (x / cell + y / cell).is_multiple_of(2) {
                            0.7
                        } else {
                            -0.7
                        }
                })
                .collect()
        }
        NoiseSpectrum::Grains => blurred(40, sigma_px)
            .iter()
            .zip(&blurred(41, 0.5 * sigma_px))
            .map(|(a, b)| a.abs().sqrt() + 0.6 * b.abs())
            .collect(),
    };
    let mean = field.iter().sum::<f32>() / field.len() as f32;
    let centred: Vec<f32> = field.iter().map(|f| f - mean).collect();
    add_scaled(grey, &centred, noise.amplitude);
}
