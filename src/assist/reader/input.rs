//! The film on cells of one size, whatever its pixels.

use rayon::prelude::*;

use crate::assist::raster::{Raster, Region};
use crate::film::Film;

/// Size of a cell, mm.
pub const CELL_MM: f64 = 0.05;

/// Which values make up one output cell, and with which weights.
struct Window {
    first: usize,
    weights: Vec<f32>,
}

/// Triangles wide enough that nothing folds back when thinning, and linear
/// interpolation when not.
fn windows(count: usize, cells: usize, px_per_cell: f64) -> Vec<Window> {
    let reach = px_per_cell.max(1.0);
    (0..cells)
        .map(|cell| {
            let centre = (cell as f64 + 0.5) * px_per_cell;
            let first = ((centre - reach).floor().max(0.0) as usize).min(count - 1);
            let last = ((centre + reach).ceil().max(1.0) as usize).clamp(first + 1, count);
            let mut weights: Vec<f32> = (first..last)
                .map(|i| (1.0 - ((i as f64 + 0.5 - centre) / reach).abs()).max(0.0) as f32)
                .collect();
            let sum: f32 = weights.iter().sum();
            if sum > 0.0 {
                weights.iter_mut().for_each(|w| *w /= sum);
            } else {
                weights = vec![1.0];
            }
            Window { first, weights }
        })
        .collect()
}

/// The opacity of the whole `film` (0 the most radiolucent sample, 1 the most
/// opaque) on cells of [`CELL_MM`], where a pixel is `mm_per_px`.
pub fn film_cells(film: &Film, mm_per_px: f64) -> Raster {
    cells_of(film, Region::whole(film), mm_per_px)
}

/// The same of a part of the film.
pub(in crate::assist) fn cells_of(film: &Film, region: Region, mm_per_px: f64) -> Raster {
    let px = Raster::from_film(film, region, 0);
    let px_per_cell = CELL_MM / mm_per_px;
    let cells = |count: usize| ((count as f64 / px_per_cell).ceil() as usize).max(1);
    let (width, height) = (cells(px.width), cells(px.height));
    let across = windows(px.width, width, px_per_cell);
    let down = windows(px.height, height, px_per_cell);
    let mut narrow = vec![0.0f32; width * px.height];
    narrow
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, out)| {
            let row = px.row(y);
            for (value, window) in out.iter_mut().zip(&across) {
                let values = &row[window.first..];
                *value = window.weights.iter().zip(values).map(|(w, v)| w * v).sum();
            }
        });
    let mut values = vec![0.0f32; width * height];
    values
        .par_chunks_mut(width)
        .zip(&down)
        .for_each(|(out, window)| {
            for (k, weight) in window.weights.iter().enumerate() {
                let row = &narrow[(window.first + k) * width..][..width];
                for (value, v) in out.iter_mut().zip(row) {
                    *value += weight * v;
                }
            }
        });
    Raster {
        width,
        height,
        origin: px.origin,
        cell_px: px_per_cell,
        values,
    }
}
