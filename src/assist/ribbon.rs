//! The film straightened along a path: rows along it, columns across it.
//!
//! On a ribbon a canal runs nearly down the columns, so its cross-section can
//! be filtered across and averaged along, which isotropic filters cannot do.

use rayon::prelude::*;

use super::raster::Raster;
use crate::units::FilmPoint;

/// A film straightened along an axis.
pub(super) struct Ribbon {
    /// Where each row's middle column lies.
    pub axis: Vec<FilmPoint>,
    /// Unit direction of growing column of each row, film frame.
    pub across: Vec<[f64; 2]>,
    /// Columns on either side of the middle one.
    pub reach: usize,
    /// Distance between columns, px.
    pub column_px: f64,
    /// Row-major values, `2 · reach + 1` columns.
    pub values: Vec<f32>,
}

impl Ribbon {
    /// Straightens `raster` along `axis` (≥ 2 points at equal steps).
    pub fn new(raster: &Raster, axis: Vec<FilmPoint>, reach: usize, column_px: f64) -> Self {
        let across = normals(&axis);
        let columns = 2 * reach + 1;
        let mut values = vec![0.0f32; axis.len() * columns];
        values
            .par_chunks_mut(columns)
            .zip(axis.par_iter().zip(&across))
            .for_each(|(row, (middle, [nx, ny]))| {
                for (column, value) in row.iter_mut().enumerate() {
                    let t = (column as f64 - reach as f64) * column_px;
                    *value = raster.sample(FilmPoint::new(middle.x + t * nx, middle.y + t * ny));
                }
            });
        Self {
            axis,
            across,
            reach,
            column_px,
            values,
        }
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        2 * self.reach + 1
    }

    /// The film point at `offset_px` across row `row`.
    pub fn film_point(&self, row: usize, offset_px: f64) -> FilmPoint {
        let (middle, [nx, ny]) = (self.axis[row], self.across[row]);
        FilmPoint::new(middle.x + offset_px * nx, middle.y + offset_px * ny)
    }

    /// `values` smoothed along the path by a Gaussian of `sigma_rows`, the
    /// ends weighted by what lies on the ribbon.
    pub fn smoothed_along(&self, values: &[f32], sigma_rows: f64) -> Vec<f32> {
        let columns = self.columns();
        let rows = self.axis.len();
        let reach = (3.0 * sigma_rows).ceil() as usize;
        let mut out = vec![0.0f32; values.len()];
        out.par_chunks_mut(columns)
            .enumerate()
            .for_each(|(row, out)| {
                let mut sum = 0.0f32;
                for other in row.saturating_sub(reach)..=(row + reach).min(rows - 1) {
                    let distance = row.abs_diff(other) as f64 / sigma_rows;
                    let weight = (-0.5 * distance * distance).exp() as f32;
                    sum += weight;
                    for (o, v) in out.iter_mut().zip(&values[other * columns..][..columns]) {
                        *o += weight * v;
                    }
                }
                for o in out {
                    *o /= sum;
                }
            });
        out
    }

    /// `values` filtered across by `kernel` (odd length, centred; the borders
    /// repeat).
    pub fn filtered_across(&self, values: &[f32], kernel: &[f32]) -> Vec<f32> {
        let columns = self.columns();
        let reach = kernel.len() / 2;
        let mut out = vec![0.0f32; values.len()];
        out.par_chunks_mut(columns)
            .zip(values.par_chunks(columns))
            .for_each_init(
                || vec![0.0f32; columns + 2 * reach],
                |padded, (out, row)| {
                    padded[reach..reach + columns].copy_from_slice(row);
                    padded[..reach].fill(row[0]);
                    padded[reach + columns..].fill(row[columns - 1]);
                    for (o, window) in out.iter_mut().zip(padded.windows(kernel.len())) {
                        *o = window.iter().zip(kernel).map(|(v, k)| v * k).sum();
                    }
                },
            );
        out
    }
}

/// Unit normals of a polyline, 90° clockwise on the film from its direction.
pub(super) fn normals(axis: &[FilmPoint]) -> Vec<[f64; 2]> {
    let last = axis.len() - 1;
    (0..axis.len())
        .map(|i| {
            let (a, b) = (axis[i.saturating_sub(1)], axis[(i + 1).min(last)]);
            let length = a.distance_px(b).max(1e-9);
            [-(b.y - a.y) / length, (b.x - a.x) / length]
        })
        .collect()
}

/// A sampled first derivative of a Gaussian (σ in cells) per cell, for
/// correlation (`filtered_across`): exact on a line.
pub(super) fn gaussian_slope_kernel(sigma: f64) -> Vec<f32> {
    let reach = (3.5 * sigma).ceil().max(1.0) as i64;
    let gauss = |k: i64| (-0.5 * (k as f64 / sigma).powi(2)).exp();
    let square_sum: f64 = (-reach..=reach).map(|k| (k * k) as f64 * gauss(k)).sum();
    (-reach..=reach)
        .map(|k| (k as f64 * gauss(k) / square_sum) as f32)
        .collect()
}
