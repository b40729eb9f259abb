//! From optical depth to stored samples: quanta, blur, noise, log response.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use super::parts::DetectorSpec;

/// A raster of relative intensities, row-major.
pub(super) struct Intensities {
    pub width: usize,
    pub values: Vec<f32>,
}

/// Half of a symmetric normal kernel, centre first; sums to one over both
/// halves.
fn normal_kernel(sigma_px: f64) -> Vec<f32> {
    let reach = (3.5 * sigma_px).ceil() as usize;
    let weights: Vec<f64> = (0..=reach)
        .map(|i| (-0.5 * (i as f64 / sigma_px).powi(2)).exp())
        .collect();
    let sum = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    weights.iter().map(|w| (w / sum) as f32).collect()
}

impl Intensities {
    /// Blurs along rows and columns by standard deviations in px; edges are
    /// continued evenly.
    pub fn blurred(self, sigma_x_px: f64, sigma_y_px: f64) -> Self {
        self.blurred_across(sigma_x_px).blurred_down(sigma_y_px)
    }

    fn blurred_across(self, sigma_px: f64) -> Self {
        // Narrower than this the neighbours' weight is below 1e-9.
        if sigma_px < 0.15 {
            return self;
        }
        let kernel = normal_kernel(sigma_px);
        let reach = kernel.len() - 1;
        let width = self.width;
        let mut values = vec![0.0; self.values.len()];
        values
            .par_chunks_mut(width)
            .zip(self.values.par_chunks(width))
            .for_each_init(
                || vec![0.0f32; width + 2 * reach],
                |padded, (out, row)| {
                    padded[..reach].fill(row[0]);
                    padded[reach..reach + width].copy_from_slice(row);
                    padded[reach + width..].fill(row[width - 1]);
                    for (x, out) in out.iter_mut().enumerate() {
                        let centre = x + reach;
                        *out = (1..=reach).fold(kernel[0] * padded[centre], |sum, k| {
                            sum + kernel[k] * (padded[centre - k] + padded[centre + k])
                        });
                    }
                },
            );
        Self { width, values }
    }

    fn blurred_down(self, sigma_px: f64) -> Self {
        if sigma_px < 0.15 {
            return self;
        }
        let kernel = normal_kernel(sigma_px);
        let width = self.width;
        let height = self.values.len() / width;
        let row = |y: usize, k: isize| {
            let y = (y as isize + k).clamp(0, height as isize - 1) as usize;
            &self.values[y * width..(y + 1) * width]
        };
        let mut values = vec![0.0; self.values.len()];
        values
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, out)| {
                for (k, weight) in kernel.iter().enumerate() {
                    let (above, below) = (row(y, -(k as isize)), row(y, k as isize));
                    let weight = if k == 0 { 0.5 * weight } else { *weight };
                    for ((out, above), below) in out.iter_mut().zip(above).zip(below) {
                        *out += weight * (above + below);
                    }
                }
            });
        Self { width, values }
    }

    /// Replaces each expected count (intensity × `photons`) by a draw of the
    /// same mean and variance; one random stream per row.
    pub fn with_quantum_noise(mut self, photons: f64, seed: u64) -> Self {
        let photons = photons as f32;
        self.values
            .par_chunks_mut(self.width)
            .enumerate()
            .for_each(|(row, values)| {
                let mut rng = ChaCha8Rng::seed_from_u64(seed);
                rng.set_stream(row as u64);
                for value in values {
                    let expected = *value * photons;
                    let deviate: f32 = StandardNormal.sample(&mut rng);
                    *value = (expected + expected.sqrt() * deviate).max(0.0) / photons;
                }
            });
        self
    }

    /// Grey that grows evenly with optical depth: 0 the detector's black, 1 its
    /// white, not cut off.
    pub fn log_grey(&self, detector: &DetectorSpec) -> Vec<f32> {
        let black = detector.black_depth as f32;
        let gain = 1.0 / (detector.white_depth - detector.black_depth) as f32;
        let depth = |intensity: &f32| -intensity.max(1e-12).ln();
        self.values
            .par_iter()
            .map(|intensity| gain * (depth(intensity) - black))
            .collect()
    }

    /// Samples that grow evenly with optical depth between the detector's
    /// black and white.
    pub fn log_samples(&self, detector: &DetectorSpec) -> Vec<u16> {
        let top = f32::from(u16::MAX >> (16 - detector.bits));
        let black = detector.black_depth as f32;
        let gain = top / (detector.white_depth - detector.black_depth) as f32;
        self.values
            .par_iter()
            .map(|intensity| {
                let depth = -intensity.max(1e-12).ln();
                (gain * (depth - black)).round().clamp(0.0, top) as u16
            })
            .collect()
    }
}

/// Grey of 0 to 1 as samples of `bits`.
pub(super) fn quantised(grey: &[f32], bits: u8) -> Vec<u16> {
    let top = f32::from(u16::MAX >> (16 - bits));
    grey.iter()
        .map(|g| (top * g).round().clamp(0.0, top) as u16)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(intensity: f32) -> Intensities {
        Intensities {
            width: 200,
            values: vec![intensity; 40_000],
        }
    }

    /// Variance of a Poisson count equals its mean: relative variance
    /// 1/(N·I). 40 000 samples give it to 0.7 %; the bound is four of those.
    #[test]
    fn noise_variance_follows_the_quanta() {
        for (photons, intensity) in [(5000.0, 0.5), (20_000.0, 0.1), (1000.0, 0.9)] {
            let noisy = flat(intensity).with_quantum_noise(photons, 7).values;
            let n = noisy.len() as f64;
            let mean = noisy.iter().map(|v| f64::from(*v)).sum::<f64>() / n;
            let variance = noisy
                .iter()
                .map(|v| (f64::from(*v) - mean).powi(2))
                .sum::<f64>()
                / n;
            let expected = f64::from(intensity) / photons;
            assert!(
                (variance / expected - 1.0).abs() < 0.028,
                "{variance} for {expected}"
            );
            let standard_error = (expected / n).sqrt();
            assert!((mean - f64::from(intensity)).abs() < 4.0 * standard_error);
        }
    }

    /// Blur keeps the sum and spreads a point by its variance.
    #[test]
    fn blur_has_the_stated_variance() {
        let mut point = flat(0.0);
        point.values[100 * 200 + 100] = 1.0;
        let blurred = point.blurred(1.3, 2.1).values;
        let moment = |axis: fn(usize) -> f64| -> f64 {
            blurred
                .iter()
                .enumerate()
                .map(|(i, v)| f64::from(*v) * (axis(i) - 100.0).powi(2))
                .sum()
        };
        let sum: f64 = blurred.iter().map(|v| f64::from(*v)).sum();
        assert!((sum - 1.0).abs() < 1e-5, "{sum}");
        let (across, down) = (moment(|i| (i % 200) as f64), moment(|i| (i / 200) as f64));
        assert!((across / 1.69 - 1.0).abs() < 0.01, "{across}");
        assert!((down / 4.41 - 1.0).abs() < 0.01, "{down}");
    }

    /// More matter is never darker, and grey is even in optical depth.
    #[test]
    fn response_is_logarithmic_and_monotone() {
        let detector = DetectorSpec {
            black_depth: 0.0,
            white_depth: 4.0,
            bits: 16,
            ..DetectorSpec::default()
        };
        let values = (0..=40).map(|i| (-0.1 * i as f32).exp()).collect();
        let samples = Intensities { width: 41, values }.log_samples(&detector);
        for (i, sample) in samples.iter().enumerate() {
            let expected = 65_535.0 * i as f64 / 40.0;
            assert!(
                (f64::from(*sample) - expected).abs() <= 1.0,
                "{i}: {sample} for {expected}"
            );
        }
        assert!(samples.windows(2).all(|w| w[0] < w[1]));
    }
}
