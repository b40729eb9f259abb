//! A film thinned to what its check needs, so that it can be kept beside a
//! case without the film.

use super::blur::edge_blur_px;
use super::grid::Grid;
use super::noise::{FilmNoise, film_noise};
use crate::film::Film;
use crate::units::FilmPoint;

/// Longer side of the sketch, cells: about 0.08 mm on a film of 40 mm, a
/// quarter of a canal's width.
const LONG_SIDE: usize = 540;

/// What is kept of a film for its check.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmSketch {
    /// Film px per cell.
    cell_px: usize,
    /// Mean opacity of each cell.
    mean: Grid,
    /// Share of each cell's samples at the first or last level.
    clipped: Vec<f32>,
    /// Cells of the parts that no rays or all rays reached: joined to the
    /// film's border and of one level.
    unexposed: Vec<bool>,
    /// Noise of the film's quietest parts.
    pub noise: FilmNoise,
    /// Blur (σ) of its sharpest edges, px; `None` where it has none.
    pub blur_px: Option<f64>,
}

/// A block of the film is a part that no rays or all rays reached where its
/// spread stays below this share of the range and its mean within that of the
/// darkest or lightest level.
const FLAT: f32 = 0.004;
/// Where noise is looked for: blocks of this many px each way.
const BLOCK: usize = 64;

impl FilmSketch {
    /// What is kept of `film`.
    pub fn of(film: &Film) -> Self {
        Self::of_grid(&Grid::of(film))
    }

    fn of_grid(grid: &Grid) -> Self {
        let cell_px = grid.width.max(grid.height).div_ceil(LONG_SIDE).max(1);
        let (width, height) = (grid.width.div_ceil(cell_px), grid.height.div_ceil(cell_px));
        let mut mean = Vec::with_capacity(width * height);
        let mut clipped = Vec::with_capacity(width * height);
        let mut flat = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let (mut sum, mut count, mut ends) = (0.0f32, 0.0f32, 0.0f32);
                let (mut low, mut high) = (f32::MAX, f32::MIN);
                for row in y * cell_px..((y + 1) * cell_px).min(grid.height) {
                    let to = ((x + 1) * cell_px).min(grid.width);
                    for &value in &grid.row(row)[x * cell_px..to] {
                        sum += value;
                        count += 1.0;
                        ends += f32::from(u8::from(value <= 0.0 || value >= 1.0));
                        (low, high) = (low.min(value), high.max(value));
                    }
                }
                let middle = sum / count.max(1.0);
                mean.push(middle);
                clipped.push(ends / count.max(1.0));
                flat.push(high - low <= FLAT && (middle <= FLAT || middle >= 1.0 - FLAT));
            }
        }
        let unexposed = joined_to_border(&flat, width, height);
        let noise = quiet_noise(grid);
        Self {
            cell_px,
            unexposed,
            clipped,
            mean: Grid {
                width,
                height,
                values: mean,
            },
            blur_px: edge_blur_px(grid, noise.scaled[0]),
            noise,
        }
    }

    /// Cells within `reach_px` of a place: their indices.
    fn near(&self, place: FilmPoint, reach_px: f64) -> impl Iterator<Item = usize> + '_ {
        let cell = self.cell_px as f64;
        let (width, height) = (self.mean.width, self.mean.height);
        (0..width * height).filter(move |i| {
            let (x, y) = ((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
            (x * cell - place.x).hypot(y * cell - place.y) <= reach_px + 0.5 * cell
        })
    }

    /// Distance from a place to the nearest part that no rays or all rays
    /// reached, px; `None` where the film has none within `reach_px`.
    pub fn unexposed_distance_px(&self, place: FilmPoint, reach_px: f64) -> Option<f64> {
        let cell = self.cell_px as f64;
        let width = self.mean.width;
        self.near(place, reach_px)
            .filter(|i| self.unexposed[*i])
            .map(|i| {
                let (x, y) = ((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
                ((x * cell - place.x).hypot(y * cell - place.y) - 0.5 * cell).max(0.0)
            })
            .min_by(f64::total_cmp)
    }

    /// Share of the samples within `reach_px` of a place that are black or
    /// white to the last level.
    pub fn clipped_share(&self, place: FilmPoint, reach_px: f64) -> f64 {
        let (mut sum, mut count) = (0.0f64, 0.0f64);
        for i in self.near(place, reach_px) {
            sum += f64::from(self.clipped[i]);
            count += 1.0;
        }
        sum / count.max(1.0)
    }

    /// The film's opacity, and the px that a cell of it is wide.
    pub fn opacity(&self) -> (&Grid, f64) {
        (&self.mean, self.cell_px as f64)
    }

    /// Share of the film that no rays or all rays reached.
    pub fn unexposed_share(&self) -> f64 {
        let count = self.unexposed.iter().filter(|u| **u).count();
        count as f64 / self.unexposed.len().max(1) as f64
    }

    /// Share of all samples that are black or white to the last level, off the
    /// unexposed parts.
    pub fn clipped_elsewhere(&self) -> f64 {
        let kept = self
            .clipped
            .iter()
            .zip(&self.unexposed)
            .filter(|(_, u)| !**u);
        let (sum, count) = kept.fold((0.0, 0.0), |(s, n), (c, _)| (s + f64::from(*c), n + 1.0));
        sum / f64::max(count, 1.0)
    }
}

/// The cells of `flat` that are joined to the border through others.
fn joined_to_border(flat: &[bool], width: usize, height: usize) -> Vec<bool> {
    let mut joined = vec![false; flat.len()];
    let mut waiting: Vec<usize> = (0..flat.len())
        .filter(|i| {
            let (x, y) = (i % width, i / width);
            flat[*i] && (x == 0 || y == 0 || x + 1 == width || y + 1 == height)
        })
        .collect();
    for &i in &waiting {
        joined[i] = true;
    }
    while let Some(i) = waiting.pop() {
        let (x, y) = (i % width, i / width);
        let beside = [
            (x > 0).then(|| i - 1),
            (x + 1 < width).then_some(i + 1),
            (y > 0).then(|| i - width),
            (y + 1 < height).then_some(i + width),
        ];
        for next in beside.into_iter().flatten() {
            if flat[next] && !joined[next] {
                joined[next] = true;
                waiting.push(next);
            }
        }
    }
    joined
}

/// The noise of the quietest of the film's blocks that hold a middle grey: the
/// tenth of them with the least spread, so that edges and bone count little.
fn quiet_noise(grid: &Grid) -> FilmNoise {
    let mut blocks: Vec<(f32, Grid)> = Vec::new();
    for y in (0..grid.height.saturating_sub(BLOCK - 1)).step_by(BLOCK) {
        for x in (0..grid.width.saturating_sub(BLOCK - 1)).step_by(BLOCK) {
            let rows = (y..y + BLOCK).flat_map(|row| &grid.row(row)[x..x + BLOCK]);
            let block = Grid {
                width: BLOCK,
                height: BLOCK,
                values: rows.copied().collect(),
            };
            let count = block.values.len() as f32;
            let mean = block.values.iter().sum::<f32>() / count;
            let square = block.values.iter().map(|v| (v - mean).powi(2)).sum::<f32>();
            if (0.03..0.97).contains(&mean) {
                blocks.push((square / count, block));
            }
        }
    }
    if blocks.is_empty() {
        return film_noise(grid);
    }
    blocks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let kept = blocks.len().div_ceil(10);
    let mut noises: Vec<FilmNoise> = blocks[..kept].iter().map(|(_, b)| film_noise(b)).collect();
    noises.sort_by(|a, b| a.scaled[0].total_cmp(&b.scaled[0]));
    noises[noises.len() / 2]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grey film with noise, a corner without rays and a white bar inside,
    /// which is no part of the border.
    #[test]
    fn unexposed_parts_are_those_joined_to_the_border() {
        let (width, height) = (400, 300);
        let mut state = 3u32;
        let values = (0..width * height)
            .map(|i| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let (x, y) = (i % width, i / width);
                match () {
                    () if x + y < 80 => 1.0,
                    () if (200..230).contains(&x) && (100..200).contains(&y) => 1.0,
                    () => 0.5 + 0.02 * (state >> 8) as f32 / (1u32 << 24) as f32,
                }
            })
            .collect();
        let sketch = FilmSketch::of_grid(&Grid {
            width,
            height,
            values,
        });
        let corner = sketch.unexposed_distance_px(FilmPoint::new(60.0, 60.0), 60.0);
        // The line x + y = 80 passes 40/√2 = 28.3 px from there; cells are 2 px.
        assert!((corner.unwrap() - 28.3).abs() < 3.0, "{corner:?}");
        assert_eq!(
            sketch.unexposed_distance_px(FilmPoint::new(240.0, 150.0), 40.0),
            None
        );
        assert!(sketch.clipped_share(FilmPoint::new(215.0, 150.0), 5.0) > 0.9);
        let share = sketch.unexposed_share();
        assert!((share - 3200.0 / 120_000.0).abs() < 0.004, "{share}");
    }
}
