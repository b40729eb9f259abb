//! Rectangular parts of a film as `f32` opacity, whole or thinned by powers
//! of two.

use rayon::prelude::*;

use crate::film::{Film, Polarity};
use crate::units::FilmPoint;

/// A row-major `f32` raster that lies on the film: cell (i, j) covers
/// `cell_px` × `cell_px` film px, the first one starting at `origin`.
#[derive(Clone, Debug)]
pub struct Raster {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) origin: FilmPoint,
    pub(super) cell_px: f64,
    pub(super) values: Vec<f32>,
}

/// A rectangle of whole film pixels: columns `x0..x1`, rows `y0..y1`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    pub x0: usize,
    pub y0: usize,
    pub x1: usize,
    pub y1: usize,
}

impl Region {
    /// The whole film.
    pub fn whole(film: &Film) -> Self {
        Self {
            x0: 0,
            y0: 0,
            x1: film.width_px() as usize,
            y1: film.height_px() as usize,
        }
    }

    /// The smallest region of the film that holds `points` and `margin_px`
    /// around them; `None` when that lies off the film.
    pub fn around(film: &Film, points: &[FilmPoint], margin_px: f64) -> Option<Self> {
        let (width, height) = (f64::from(film.width_px()), f64::from(film.height_px()));
        let low = |axis: fn(&FilmPoint) -> f64| points.iter().map(axis).fold(f64::MAX, f64::min);
        let high = |axis: fn(&FilmPoint) -> f64| points.iter().map(axis).fold(f64::MIN, f64::max);
        let region = Self {
            x0: (low(|p| p.x) - margin_px).floor().clamp(0.0, width) as usize,
            y0: (low(|p| p.y) - margin_px).floor().clamp(0.0, height) as usize,
            x1: (high(|p| p.x) + margin_px).ceil().clamp(0.0, width) as usize,
            y1: (high(|p| p.y) + margin_px).ceil().clamp(0.0, height) as usize,
        };
        (region.x0 < region.x1 && region.y0 < region.y1).then_some(region)
    }
}

impl Raster {
    /// `values` of a `width` × `height` raster whose cells are film pixels;
    /// `None` when the counts differ or there is no cell.
    pub fn from_values(width: usize, height: usize, values: Vec<f32>) -> Option<Self> {
        (values.len() == width * height && !values.is_empty()).then_some(Self {
            width,
            height,
            origin: FilmPoint::new(0.0, 0.0),
            cell_px: 1.0,
            values,
        })
    }

    /// The opacity of `region` of `film`, thinned `halvings` times, at full
    /// depth: 0 for the most radiolucent sample, 1 for the most opaque.
    pub fn from_film(film: &Film, region: Region, halvings: u32) -> Self {
        let (width, height) = (region.x1 - region.x0, region.y1 - region.y0);
        let film_width = film.width_px() as usize;
        let full = f32::from(((1u32 << film.bits_stored()) - 1) as u16);
        let (offset, gain) = match film.polarity() {
            Polarity::HighIsOpaque => (0.0, 1.0 / full),
            Polarity::LowIsOpaque => (1.0, -1.0 / full),
        };
        let mut values = vec![0.0f32; width * height];
        values
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(row, out)| {
                let start = (region.y0 + row) * film_width + region.x0;
                let samples = &film.samples()[start..start + width];
                for (value, &sample) in out.iter_mut().zip(samples) {
                    *value = gain * f32::from(sample) + offset;
                }
            });
        let mut raster = Self {
            width,
            height,
            origin: FilmPoint::new(region.x0 as f64, region.y0 as f64),
            cell_px: 1.0,
            values,
        };
        for _ in 0..halvings {
            raster = raster.halved();
        }
        raster
    }

    /// Columns.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.height
    }

    /// Row-major values.
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// A raster on the same cells with other values.
    pub(super) fn with_values(&self, values: Vec<f32>) -> Self {
        debug_assert_eq!(values.len(), self.values.len());
        Self {
            width: self.width,
            height: self.height,
            origin: self.origin,
            cell_px: self.cell_px,
            values,
        }
    }

    pub(super) fn row(&self, row: usize) -> &[f32] {
        &self.values[row * self.width..(row + 1) * self.width]
    }

    /// Film frame → cells: (0, 0) the outer corner of the first cell.
    pub(super) fn cells_from_film(&self, p: FilmPoint) -> (f64, f64) {
        (
            (p.x - self.origin.x) / self.cell_px,
            (p.y - self.origin.y) / self.cell_px,
        )
    }

    /// Centre of the cell in column `x`, row `y`, film frame.
    pub(super) fn film_from_cell(&self, x: usize, y: usize) -> FilmPoint {
        FilmPoint::new(
            self.origin.x + (x as f64 + 0.5) * self.cell_px,
            self.origin.y + (y as f64 + 0.5) * self.cell_px,
        )
    }

    /// Column and row of the cell nearest to a film point.
    pub(super) fn cell_at(&self, p: FilmPoint) -> (usize, usize) {
        let (x, y) = self.cells_from_film(p);
        (
            (x.floor().max(0.0) as usize).min(self.width - 1),
            (y.floor().max(0.0) as usize).min(self.height - 1),
        )
    }

    /// Bilinear value at a film point; beyond the border the border's value.
    pub(super) fn sample(&self, p: FilmPoint) -> f32 {
        let (x, y) = self.cells_from_film(p);
        let x = (x - 0.5).clamp(0.0, (self.width - 1) as f64);
        let y = (y - 0.5).clamp(0.0, (self.height - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
        let (upper, lower) = (self.row(y0), self.row(y1));
        let top = upper[x0] + fx * (upper[x1] - upper[x0]);
        let bottom = lower[x0] + fx * (lower[x1] - lower[x0]);
        top + fy * (bottom - top)
    }

    /// Half as many cells each way (odd ends rounded up), smoothed by
    /// [1 3 3 1]/8 (variance 0.75 cells²), so that nothing folds back near
    /// zero frequency.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let mut values = vec![0.0f32; width * height];
        values.par_chunks_mut(width * 16).enumerate().for_each_init(
            || vec![0.0f32; 2 * width + 2],
            |padded, (band, out)| {
                for (k, out) in out.chunks_mut(width).enumerate() {
                    let y = 2 * (band * 16 + k) as isize;
                    let [a, b, c, d] = [-1, 0, 1, 2].map(|k| self.row(reflect(y + k, self.height)));
                    let sums = a.iter().zip(b).zip(c).zip(d);
                    for (value, (((a, b), c), d)) in padded[1..].iter_mut().zip(sums) {
                        *value = (a + d) + 3.0 * (b + c);
                    }
                    padded[0] = padded[1];
                    for x in self.width..=2 * width {
                        padded[x + 1] = padded[reflect(x as isize, self.width) + 1];
                    }
                    for (x, value) in out.iter_mut().enumerate() {
                        let four = &padded[2 * x..2 * x + 4];
                        *value = ((four[0] + four[3]) + 3.0 * (four[1] + four[2])) / 64.0;
                    }
                }
            },
        );
        Self {
            width,
            height,
            origin: self.origin,
            cell_px: self.cell_px * 2.0,
            values,
        }
    }
}

/// The index that mirrors `index` into `0..count` about the outer cell edges
/// (d c b a | a b c d | d c b a).
pub(super) fn reflect(index: isize, count: usize) -> usize {
    let count = count as isize;
    let folded = index.rem_euclid(2 * count);
    if folded < count {
        folded as usize
    } else {
        (2 * count - 1 - folded) as usize
    }
}
