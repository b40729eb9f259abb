//! Multi-scale ridge response: where a dark canal or a bright instrument runs.
//!
//! At every scale σ the film is smoothed by a Gaussian and the larger
//! principal second derivative across a dark ridge, times σ², is the
//! response; the maximum over the scales is kept (Lindeberg 1998,
//! doi 10.1023/A:1008097225773; for two dimensions equal to Sato's line filter,
//! doi 10.1016/S1361-8415(98)80009-1). A bar of width w answers most at σ = w/2.
//!
//! Scales above [`COARSEST_SIGMA_CELLS`] cells are computed on a raster
//! thinned by two as often as needed, so that every scale costs about the same
//! few operations per cell of its own raster; the responses are brought back
//! by cubic interpolation.

use rayon::prelude::*;

use super::AssistError;
use super::raster::{Raster, reflect};
use crate::progress::Progress;

/// Which ridges answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RidgeKind {
    /// Less opaque than both sides: a canal.
    Dark,
    /// More opaque than both sides: an instrument, a root filling.
    Bright,
}

/// A scale of this many cells or more is computed on a thinner raster.
const COARSEST_SIGMA_CELLS: f64 = 4.0;
/// The Gaussian is cut off at this many σ.
const KERNEL_REACH: f64 = 3.7;
/// Variance that central second differences add, cells².
const DIFFERENCE_VARIANCE: f64 = 1.0 / 6.0;
/// Variance that thinning by two adds, in cells² before it.
const THINNING_VARIANCE: f64 = 0.75;
/// Columns computed together.
const LANES: usize = 32;
/// Rows computed together.
const BAND_ROWS: usize = 48;

/// The ridge response of `film` on its own cells, per unit opacity, at the
/// scales `sigmas_px` (σ in film px, each at least 0.6 cells).
///
/// # Errors
/// [`AssistError::Cancelled`] when asked to stop; [`AssistError::Scale`] when
/// there is no scale or one is too fine for the cells.
pub fn ridge_response(
    film: &Raster,
    sigmas_px: &[f64],
    kind: RidgeKind,
    progress: &Progress,
) -> Result<Raster, AssistError> {
    let mut sigmas: Vec<f64> = sigmas_px.iter().map(|s| s / film.cell_px).collect();
    sigmas.sort_by(f64::total_cmp);
    if sigmas.is_empty() || !sigmas.iter().all(|s| (0.6..1e4).contains(s)) {
        return Err(AssistError::Scale);
    }
    let values = octave(film, &sigmas, 0.0, kind, progress)?;
    Ok(film.with_values(values))
}

/// Responses at the ascending scales `sigmas` (cells) of a raster that is
/// already smoothed by `variance` (cells²).
fn octave(
    raster: &Raster,
    sigmas: &[f64],
    variance: f64,
    kind: RidgeKind,
    progress: &Progress,
) -> Result<Vec<f32>, AssistError> {
    progress.check()?;
    let fits = raster.width.min(raster.height) >= 8;
    let split = if fits {
        sigmas.partition_point(|&s| s < COARSEST_SIGMA_CELLS)
    } else {
        sigmas.len()
    };
    let (here, coarser) = sigmas.split_at(split);
    let mut response = vec![0.0f32; raster.values.len()];
    if !coarser.is_empty() {
        let thin = raster.halved();
        let thin_sigmas: Vec<f64> = coarser.iter().map(|s| s / 2.0).collect();
        let thin_variance = (variance + THINNING_VARIANCE) / 4.0;
        let thin_response = octave(&thin, &thin_sigmas, thin_variance, kind, progress)?;
        doubled(&thin_response, thin.width, &mut response, raster.width);
    }
    for &sigma in here {
        progress.check()?;
        add_scale(raster, sigma, variance, kind, &mut response);
    }
    Ok(response)
}

/// Raises `response` to the response at one scale where that is larger.
fn add_scale(raster: &Raster, sigma: f64, variance: f64, kind: RidgeKind, response: &mut [f32]) {
    let missing = (sigma * sigma - variance - DIFFERENCE_VARIANCE).max(0.04);
    let kernel = half_gaussian(missing.sqrt());
    let gain = (sigma * sigma) as f32
        * match kind {
            RidgeKind::Dark => 1.0,
            RidgeKind::Bright => -1.0,
        };
    let width = raster.width;
    response
        .par_chunks_mut(width * BAND_ROWS)
        .enumerate()
        .for_each_init(
            || Scratch::new(width, kernel.len() - 1),
            |scratch, (band, out)| {
                let first = (band * BAND_ROWS) as isize;
                let rows = (out.len() / width) as isize;
                scratch.smooth_row(raster, &kernel, first - 1, 0);
                scratch.smooth_row(raster, &kernel, first, 1);
                for k in 0..rows {
                    let [above, middle, below] = [k, k + 1, k + 2].map(|k| (k % 3) as usize);
                    scratch.smooth_row(raster, &kernel, first + k + 1, below);
                    let out = &mut out[k as usize * width..][..width];
                    raise_to_ridge(
                        [above, middle, below].map(|k| &scratch.smooth[k][..]),
                        gain,
                        out,
                    );
                }
            },
        );
}

/// Half of a sampled Gaussian, centre first, whole sum 1.
pub(super) fn half_gaussian(sigma: f64) -> Vec<f32> {
    let reach = (KERNEL_REACH * sigma).ceil() as usize;
    let weights: Vec<f64> = (0..=reach)
        .map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp())
        .collect();
    let sum = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    weights.iter().map(|w| (w / sum) as f32).collect()
}

/// One worker's rows: one smoothed down the columns, with mirrored ends, and
/// the last three smoothed both ways, with one mirrored cell at each end.
struct Scratch {
    reach: usize,
    column_smooth: Vec<f32>,
    smooth: [Vec<f32>; 3],
}

impl Scratch {
    fn new(width: usize, reach: usize) -> Self {
        let lanes = width.next_multiple_of(LANES);
        Self {
            reach,
            column_smooth: vec![0.0; lanes + 2 * reach],
            smooth: [(); 3].map(|()| vec![0.0; lanes + 2]),
        }
    }

    /// Smooths row `y` of `raster` (mirrored when outside) into slot `slot`.
    fn smooth_row(&mut self, raster: &Raster, kernel: &[f32], y: isize, slot: usize) {
        let (width, reach) = (raster.width, self.reach);
        let middle = raster.row(reflect(y, raster.height));
        let pairs: Vec<(&[f32], &[f32])> = (1..=reach as isize)
            .map(|k| {
                (
                    raster.row(reflect(y - k, raster.height)),
                    raster.row(reflect(y + k, raster.height)),
                )
            })
            .collect();
        let interior = &mut self.column_smooth[reach..reach + width];
        let mut x = 0;
        while x + LANES <= width {
            let mut sums = [0.0f32; LANES];
            for (sum, value) in sums.iter_mut().zip(lanes(middle, x)) {
                *sum = kernel[0] * value;
            }
            for (weight, (above, below)) in kernel[1..].iter().zip(&pairs) {
                let (above, below) = (lanes(above, x), lanes(below, x));
                for k in 0..LANES {
                    sums[k] += weight * (above[k] + below[k]);
                }
            }
            interior[x..x + LANES].copy_from_slice(&sums);
            x += LANES;
        }
        for x in x..width {
            let mut sum = kernel[0] * middle[x];
            for (weight, (above, below)) in kernel[1..].iter().zip(&pairs) {
                sum += weight * (above[x] + below[x]);
            }
            interior[x] = sum;
        }

        let padded = &mut self.column_smooth;
        for k in 1..=reach {
            padded[reach - k] = padded[reach + reflect(-(k as isize), width)];
            padded[reach + width - 1 + k] =
                padded[reach + reflect((width - 1 + k) as isize, width)];
        }
        let smooth = &mut self.smooth[slot];
        for x in (0..width).step_by(LANES) {
            let mut sums = [0.0f32; LANES];
            for (sum, value) in sums.iter_mut().zip(lanes(padded, x + reach)) {
                *sum = kernel[0] * value;
            }
            for (k, weight) in kernel.iter().enumerate().skip(1) {
                let (left, right) = (lanes(padded, x + reach - k), lanes(padded, x + reach + k));
                for k in 0..LANES {
                    sums[k] += weight * (left[k] + right[k]);
                }
            }
            smooth[x + 1..x + 1 + LANES].copy_from_slice(&sums);
        }
        smooth[0] = smooth[1];
        smooth[width + 1] = smooth[width];
    }
}

/// `LANES` values from `start` on, as an array, so that the compiler keeps
/// them in vector registers.
#[inline(always)]
fn lanes(values: &[f32], start: usize) -> &[f32; LANES] {
    match values[start..].first_chunk() {
        Some(chunk) => chunk,
        None => &[0.0; LANES],
    }
}

/// Raises `out` to the larger eigenvalue of the Hessian times `gain`, from
/// three smoothed rows with one extra cell at each end. The second
/// differences are smoothed across by [1 10 1]/12, so that both directions
/// see the same total variance.
fn raise_to_ridge(rows: [&[f32]; 3], gain: f32, out: &mut [f32]) {
    let width = out.len();
    let [a, b, c] = rows.map(|row| &row[..width + 2]);
    let (gain, size) = (0.5 * gain, 0.5 * gain.abs());
    for x in 0..width {
        let (a0, a1, a2) = (a[x], a[x + 1], a[x + 2]);
        let (b0, b1, b2) = (b[x], b[x + 1], b[x + 2]);
        let (c0, c1, c2) = (c[x], c[x + 1], c[x + 2]);
        let corners = (a0 + a2) + (c0 + c2);
        // [1 −2 1] across with [1 10 1]/12 along.
        let dxx = (corners - 2.0 * (a1 + c1) + 10.0 * (b0 - 2.0 * b1 + b2)) / 12.0;
        let dyy = (corners - 2.0 * (b0 + b2) + 10.0 * (a1 - 2.0 * b1 + c1)) / 12.0;
        let dxy = 0.25 * ((a0 + c2) - (a2 + c0));
        let split = ((dxx - dyy) * (dxx - dyy) + 4.0 * dxy * dxy).sqrt();
        let ridge = gain * (dxx + dyy) + size * split;
        out[x] = out[x].max(ridge);
    }
}

/// Writes `thin` (of `thin_width` columns) onto twice as many cells, by
/// Catmull–Rom cubics; negative overshoot becomes 0.
fn doubled(thin: &[f32], thin_width: usize, out: &mut [f32], width: usize) {
    /// Weights of the four cells about a point a quarter cell before the second.
    const NEAR: [f32; 4] = [-0.0703125, 0.8671875, 0.2265625, -0.0234375];
    let thin_height = thin.len() / thin_width;
    out.par_chunks_mut(width * BAND_ROWS)
        .enumerate()
        .for_each_init(
            || vec![0.0f32; thin_width + 4],
            |padded, (band, out)| {
                for (k, out) in out.chunks_mut(width).enumerate() {
                    let y = band * BAND_ROWS + k;
                    let side = if y.is_multiple_of(2) { -1 } else { 1 };
                    let [a, b, c, d] = [-1, 0, 1, 2].map(|k| {
                        let row = reflect((y / 2) as isize + side * k, thin_height);
                        &thin[row * thin_width..][..thin_width]
                    });
                    // a and d change places with the side: b is always nearest.
                    let four = a.iter().zip(b).zip(c).zip(d);
                    for (value, (((a, b), c), d)) in padded[2..].iter_mut().zip(four) {
                        *value = NEAR[0] * a + NEAR[1] * b + NEAR[2] * c + NEAR[3] * d;
                    }
                    for k in 1..=2 {
                        padded[2 - k] = padded[2 + reflect(-(k as isize), thin_width)];
                        let end = thin_width + 1 + k;
                        padded[end] =
                            padded[2 + reflect((thin_width - 1 + k) as isize, thin_width)];
                    }
                    for (pair, five) in out.chunks_mut(2).zip(padded.windows(5)) {
                        let left = NEAR[0] * five[3]
                            + NEAR[1] * five[2]
                            + NEAR[2] * five[1]
                            + NEAR[3] * five[0];
                        pair[0] = left.max(0.0);
                        if let Some(right_cell) = pair.get_mut(1) {
                            let right = NEAR[0] * five[1]
                                + NEAR[1] * five[2]
                                + NEAR[2] * five[3]
                                + NEAR[3] * five[4];
                            *right_cell = right.max(0.0);
                        }
                    }
                }
            },
        );
}
