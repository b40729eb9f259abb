//! How many traces pass through each place of the film.

use egui::{Color32, ColorImage};

use crate::units::FilmPoint;

/// Cells along the longer side of the traced part of the film.
const CELLS: f64 = 420.0;
/// How far a trace reaches to either side, as a share of that longer side:
/// the breadth of a drawn line.
const REACH: f64 = 0.004;

/// Counts of traces over a grid of square cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// Corner of the grid on the film.
    pub origin: FilmPoint,
    /// Side of a cell, film px.
    pub cell_px: f64,
    pub columns: usize,
    pub rows: usize,
    counts: Vec<u32>,
    /// The greatest count.
    pub most: u32,
}

impl Density {
    /// Counts `paths`, each once per cell it comes near; `None` without any.
    pub fn of<'a>(paths: impl Iterator<Item = &'a [FilmPoint]> + Clone) -> Option<Self> {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for point in paths.clone().flatten() {
            for (axis, value) in [point.x, point.y].into_iter().enumerate() {
                low[axis] = low[axis].min(value);
                high[axis] = high[axis].max(value);
            }
        }
        let longer = (high[0] - low[0]).max(high[1] - low[1]);
        if !(longer.is_finite() && longer > 0.0) {
            return None;
        }
        let (cell_px, reach_px) = (longer / CELLS, longer * REACH);
        let margin = 2.0 * reach_px;
        let cells = |axis: usize| ((high[axis] - low[axis] + 2.0 * margin) / cell_px).ceil();
        let (columns, rows) = (cells(0) as usize + 1, cells(1) as usize + 1);
        let mut density = Self {
            origin: FilmPoint::new(low[0] - margin, low[1] - margin),
            cell_px,
            columns,
            rows,
            counts: vec![0; columns * rows],
            most: 0,
        };
        let mut last_seen = vec![0_u32; columns * rows];
        for (index, path) in paths.enumerate() {
            density.count(path, reach_px, index as u32 + 1, &mut last_seen);
        }
        density.most = density.counts.iter().copied().max().unwrap_or(0);
        Some(density)
    }

    /// Counts one path; `stamp` marks the cells it was counted in.
    fn count(&mut self, path: &[FilmPoint], reach_px: f64, stamp: u32, last_seen: &mut [u32]) {
        for pair in path.windows(2) {
            let steps = (pair[0].distance_px(pair[1]) / self.cell_px)
                .ceil()
                .max(1.0);
            for step in 0..=steps as usize {
                let t = step as f64 / steps;
                let x = pair[0].x + t * (pair[1].x - pair[0].x);
                let y = pair[0].y + t * (pair[1].y - pair[0].y);
                let cells = |at: f64, start: f64, count: usize| {
                    let low = ((at - reach_px - start) / self.cell_px).floor().max(0.0);
                    let high = ((at + reach_px - start) / self.cell_px).floor().max(0.0);
                    low as usize..=(high as usize).min(count - 1)
                };
                for row in cells(y, self.origin.y, self.rows) {
                    for column in cells(x, self.origin.x, self.columns) {
                        let cell = row * self.columns + column;
                        if last_seen[cell] != stamp {
                            last_seen[cell] = stamp;
                            self.counts[cell] += 1;
                        }
                    }
                }
            }
        }
    }

    /// The count at a place of the film.
    #[cfg(test)]
    fn at(&self, place: FilmPoint) -> u32 {
        let column = ((place.x - self.origin.x) / self.cell_px) as usize;
        let row = ((place.y - self.origin.y) / self.cell_px) as usize;
        self.counts[row * self.columns + column]
    }

    /// The counts as a picture to lay over the film.
    pub fn image(&self) -> ColorImage {
        let most = f64::from(self.most.max(1));
        let pixels = self.counts.iter();
        let pixels = pixels.map(|&count| match count {
            0 => Color32::TRANSPARENT,
            count => colour(f64::from(count) / most),
        });
        ColorImage::new([self.columns, self.rows], pixels.collect())
    }
}

/// Colour of a share of the greatest count: blue to yellow, darker to lighter,
/// so that it reads without red and green, and without colour at all.
pub fn colour(share: f64) -> Color32 {
    const RAMP: [[f64; 3]; 4] = [
        [40.0, 84.0, 170.0],
        [92.0, 124.0, 168.0],
        [190.0, 176.0, 110.0],
        [255.0, 236.0, 80.0],
    ];
    let place = share.clamp(0.0, 1.0) * (RAMP.len() - 1) as f64;
    let index = (place as usize).min(RAMP.len() - 2);
    let t = place - index as f64;
    let channel = |n: usize| (RAMP[index][n] + t * (RAMP[index + 1][n] - RAMP[index][n])) as u8;
    let alpha = 110.0 + 110.0 * share.clamp(0.0, 1.0);
    Color32::from_rgba_unmultiplied(channel(0), channel(1), channel(2), alpha as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(x: f64) -> Vec<FilmPoint> {
        vec![FilmPoint::new(x, 0.0), FilmPoint::new(x, 1000.0)]
    }

    /// A crossing counts both lines, a line drawn twice over itself counts
    /// once.
    #[test]
    fn each_trace_counts_once_where_it_passes() {
        let there_and_back: Vec<FilmPoint> = [0.0, 1000.0, 0.0]
            .map(|y| FilmPoint::new(100.0, y))
            .to_vec();
        let across = vec![FilmPoint::new(0.0, 500.0), FilmPoint::new(300.0, 500.0)];
        let paths = [there_and_back, line(200.0), across];
        let density = Density::of(paths.iter().map(Vec::as_slice)).expect("has traces");
        assert_eq!(density.most, 2);
        for (x, y, count) in [
            (100.0, 250.0, 1),
            (200.0, 250.0, 1),
            (150.0, 250.0, 0),
            (100.0, 500.0, 2),
            (200.0, 500.0, 2),
            (150.0, 500.0, 1),
        ] {
            assert_eq!(density.at(FilmPoint::new(x, y)), count, "{x} {y}");
        }
    }

    #[test]
    fn nothing_drawn_has_no_density() {
        assert_eq!(Density::of(std::iter::empty()), None);
        let dot = [FilmPoint::new(1.0, 1.0)];
        assert_eq!(Density::of([&dot[..]].into_iter()), None);
    }

    /// Relative luminance rises all along, so that grey print keeps order.
    #[test]
    fn more_traces_are_lighter() {
        let weight = |c: Color32| {
            let [r, g, b, _] = c.to_srgba_unmultiplied();
            2126 * u32::from(r) + 7152 * u32::from(g) + 722 * u32::from(b)
        };
        let weights: Vec<u32> = (0..=20)
            .map(|i| weight(colour(f64::from(i) / 20.0)))
            .collect();
        assert!(
            weights.windows(2).all(|pair| pair[0] < pair[1]),
            "{weights:?}"
        );
    }
}
