//! What each copy of a film says, on the film's own frame.

use rayon::prelude::*;

use super::layers::Planes;
use super::net::Seen;
use super::sign::Sign;
use crate::assist::raster::Raster;
use crate::units::FilmPoint;

/// Cells of the maps to one of the widest layer, each way.
const DEEP: f64 = 32.0;
/// A copy's peak is climbed to by the highest cell within this many cells …
const CLIMB: isize = 3;
/// … and no farther than this from where it began: a root's width.
const FARTHEST_CELLS: f64 = 20.0;
/// Its centre of mass counts cells up to this far.
const MASS_REACH: isize = 2;

/// One copy's reading.
pub(super) struct FilmCopy {
    /// Before the logistic function.
    logits: [Raster; 5],
    deep: Vec<Raster>,
}

/// Where a copy sees a sign.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CopyPeak {
    /// Its peak.
    pub place: FilmPoint,
    /// Height of the peak before the logistic function.
    pub logit: f64,
}

impl FilmCopy {
    /// `cell_px`: size of a cell of `seen`, whose first one starts at `origin`.
    pub fn new(seen: &Seen, origin: FilmPoint, cell_px: f64) -> Self {
        let raster = |planes: &Planes, plane: usize, cell_px: f64| Raster {
            width: planes.width,
            height: planes.height,
            origin,
            cell_px,
            values: (0..planes.height)
                .flat_map(|y| planes.row(plane, y))
                .copied()
                .collect(),
        };
        Self {
            logits: std::array::from_fn(|map| raster(&seen.logits, map, cell_px)),
            deep: (0..seen.deep.count)
                .map(|plane| raster(&seen.deep, plane, DEEP * cell_px))
                .collect(),
        }
    }

    /// The peak of `sign` that `place` leads up to.
    pub fn peak_near(&self, sign: Sign, place: FilmPoint) -> CopyPeak {
        let map = &self.logits[sign as usize];
        let (width, height) = (map.width() as isize, map.height() as isize);
        let at = |x: isize, y: isize| map.values[(y * width + x) as usize];
        let (x, y) = map.cell_at(place);
        let start = (x as isize, y as isize);
        let within = |x: isize, y: isize| {
            let way = ((x - start.0) as f64).hypot((y - start.1) as f64);
            (0..width).contains(&x) && (0..height).contains(&y) && way <= FARTHEST_CELLS
        };
        let mut top = start;
        loop {
            let mut best = (at(top.0, top.1), top);
            for y in top.1 - CLIMB..=top.1 + CLIMB {
                for x in top.0 - CLIMB..=top.0 + CLIMB {
                    if within(x, y) && at(x, y) > best.0 {
                        best = (at(x, y), (x, y));
                    }
                }
            }
            if best.1 == top {
                break;
            }
            top = best.1;
        }
        let (mut sum, mut sum_x, mut sum_y) = (0.0f64, 0.0f64, 0.0f64);
        for y in (top.1 - MASS_REACH).max(0)..=(top.1 + MASS_REACH).min(height - 1) {
            for x in (top.0 - MASS_REACH).max(0)..=(top.0 + MASS_REACH).min(width - 1) {
                let weight = f64::from(logistic(at(x, y)));
                sum += weight;
                sum_x += weight * (x as f64 + 0.5);
                sum_y += weight * (y as f64 + 0.5);
            }
        }
        CopyPeak {
            place: FilmPoint::new(
                map.origin.x + sum_x / sum.max(1e-30) * map.cell_px,
                map.origin.y + sum_y / sum.max(1e-30) * map.cell_px,
            ),
            logit: f64::from(at(top.0, top.1)),
        }
    }

    pub fn surroundings(&self, place: FilmPoint) -> Vec<f32> {
        self.deep
            .iter()
            .map(|raster| raster.sample(place))
            .collect()
    }
}

fn logistic(logit: f32) -> f32 {
    1.0 / (1.0 + (-logit).exp())
}

/// The maps (after the logistic function) of the copies' mean, on the cells of
/// the first, which are the finest.
pub(super) fn mean_maps(copies: &[FilmCopy]) -> [Raster; 5] {
    std::array::from_fn(|map| {
        let own = &copies[0].logits[map];
        let mut values = own.values.clone();
        let width = own.width.max(1);
        let share = 1.0 / copies.len() as f32;
        values
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, value) in row.iter_mut().enumerate() {
                    for other in &copies[1..] {
                        let other = &other.logits[map];
                        *value += if other.width == own.width && other.height == own.height {
                            other.values[y * width + x]
                        } else {
                            other.sample(own.film_from_cell(x, y))
                        };
                    }
                    *value = logistic(share * *value);
                }
            });
        own.with_values(values)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A copy on cells of another size, whose peak lies 0.3 cells of its own
    /// from the middle of one: found where it is, from a place beside it.
    #[test]
    fn a_copy_s_peak_is_climbed_to() {
        let (width, height, cx, cy) = (40usize, 30usize, 17.8f64, 11.5f64);
        let mut logits = Planes::zeros(5, width, height);
        for y in 0..height {
            for (x, v) in logits.row_mut(3, y).iter_mut().enumerate() {
                let (dx, dy) = (x as f64 + 0.5 - cx, y as f64 + 0.5 - cy);
                *v = (4.0 - 0.5 * (dx * dx + dy * dy)) as f32;
            }
        }
        let seen = Seen {
            logits,
            deep: Planes::zeros(96, 2, 1),
        };
        let copy = FilmCopy::new(&seen, FilmPoint::new(100.0, 200.0), 3.0);
        let true_place = FilmPoint::new(100.0 + 3.0 * cx, 200.0 + 3.0 * cy);
        let beside = FilmPoint::new(true_place.x + 14.0, true_place.y - 9.0);
        let found = copy.peak_near(Sign::Apex, beside);
        assert!(found.place.distance_px(true_place) < 0.6, "{found:?}");
        assert!((found.logit - 4.0).abs() < 0.1, "{found:?}");
        assert_eq!(copy.surroundings(beside).len(), 96);
    }

    /// The mean of two copies whose cells differ lies on the finer ones.
    #[test]
    fn copies_of_different_cells_are_averaged_in_place() {
        let plane = |width: usize, height: usize, slope: f32, cell: f32| {
            let mut logits = Planes::zeros(5, width, height);
            for y in 0..height {
                for (x, v) in logits.row_mut(1, y).iter_mut().enumerate() {
                    *v = slope * (x as f32 + 0.5) * cell;
                }
            }
            let seen = Seen {
                logits,
                deep: Planes::zeros(96, 1, 1),
            };
            FilmCopy::new(&seen, FilmPoint::new(0.0, 0.0), f64::from(cell))
        };
        let maps = mean_maps(&[plane(30, 8, 0.1, 1.0), plane(24, 7, 0.3, 1.25)]);
        for x in 2..26 {
            let logit = 0.2 * (x as f32 + 0.5);
            let value = maps[1].values[3 * 30 + x];
            assert!((value - logistic(logit)).abs() < 1e-4, "{x}: {value}");
        }
    }
}
