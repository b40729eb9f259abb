//! Ways over a map: from one place to all others, cheap where the map is high.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::assist::AssistError;
use crate::assist::raster::Raster;
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A cell that looks like nothing costs this many times one that surely looks
/// like the sign: its reciprocal is added to the map's value.
const FLOOR: f32 = 0.04;

/// The cheapest ways from one cell.
pub(in crate::assist) struct Ways<'a> {
    map: &'a Raster,
    cost: Vec<f32>,
    came: Vec<u32>,
}

fn step_cost(value: f32) -> f32 {
    1.0 / (FLOOR + value)
}

impl<'a> Ways<'a> {
    /// What a cell costs that looks like nothing.
    pub const DEAREST: f32 = 1.0 / FLOOR;

    /// Ways from `start` that cost at most `limit` (1 is one sure cell).
    ///
    /// # Errors
    /// [`AssistError::Cancelled`].
    pub fn from(
        map: &'a Raster,
        start: FilmPoint,
        limit: f32,
        progress: &Progress,
    ) -> Result<Self, AssistError> {
        let (width, height) = (map.width(), map.height());
        let mut cost = vec![f32::INFINITY; width * height];
        let mut came = vec![u32::MAX; width * height];
        let (x, y) = map.cell_at(start);
        let first = y * width + x;
        cost[first] = 0.0;
        // Costs are kept as whole thousandths, which have an order.
        let mut waiting = BinaryHeap::from([Reverse((0u64, first as u32))]);
        let mut taken = 0usize;
        while let Some(Reverse((_, cell))) = waiting.pop() {
            taken += 1;
            if taken.is_multiple_of(1 << 14) {
                progress.check()?;
            }
            let here = cost[cell as usize];
            let (x, y) = (cell as usize % width, cell as usize / width);
            for dy in -1isize..=1 {
                for dx in -1isize..=1 {
                    let (u, v) = (x as isize + dx, y as isize + dy);
                    if (dx, dy) == (0, 0)
                        || !(0..width as isize).contains(&u)
                        || !(0..height as isize).contains(&v)
                    {
                        continue;
                    }
                    let next = v as usize * width + u as usize;
                    let length = if dx != 0 && dy != 0 {
                        std::f32::consts::SQRT_2
                    } else {
                        1.0
                    };
                    let there = here + length * step_cost(map.values[next]);
                    if there < cost[next] && there <= limit {
                        cost[next] = there;
                        came[next] = cell;
                        waiting.push(Reverse(((there * 1000.0) as u64, next as u32)));
                    }
                }
            }
        }
        Ok(Self { map, cost, came })
    }

    /// Cost of the way to a place; `None` where it was not reached.
    pub fn cost_to(&self, place: FilmPoint) -> Option<f32> {
        let (x, y) = self.map.cell_at(place);
        let cost = self.cost[y * self.map.width() + x];
        cost.is_finite().then_some(cost)
    }

    /// The way to a place, from the start, at the cells' centres.
    pub fn line_to(&self, place: FilmPoint) -> Vec<FilmPoint> {
        let width = self.map.width();
        let (x, y) = self.map.cell_at(place);
        let mut cell = (y * width + x) as u32;
        let mut line = Vec::new();
        while cell != u32::MAX {
            let at = cell as usize;
            line.push(self.map.film_from_cell(at % width, at / width));
            cell = self.came[at];
        }
        line.reverse();
        line
    }

    /// The place farthest along the ways (by length) whose cell is at least
    /// `least` and whose way costs at most `per_cell` a cell of its length,
    /// and `free` once.
    pub fn farthest(&self, least: f32, per_cell: f32, free: f32) -> Option<FilmPoint> {
        let width = self.map.width();
        let count = self.cost.len();
        let mut order: Vec<u32> = (0..count as u32)
            .filter(|&c| self.cost[c as usize].is_finite())
            .collect();
        order.sort_by(|a, b| self.cost[*a as usize].total_cmp(&self.cost[*b as usize]));
        let mut length = vec![0.0f32; count];
        let mut best: Option<(f32, usize)> = None;
        for cell in order {
            let at = cell as usize;
            let before = self.came[at];
            if before != u32::MAX {
                let b = before as usize;
                let aslant = at % width != b % width && at / width != b / width;
                let step = if aslant {
                    std::f32::consts::SQRT_2
                } else {
                    1.0
                };
                length[at] = length[b] + step;
            }
            let fits =
                self.map.values[at] >= least && self.cost[at] <= free + per_cell * length[at];
            if fits && best.is_none_or(|(l, _)| length[at] > l) {
                best = Some((length[at], at));
            }
        }
        best.map(|(_, at)| self.map.film_from_cell(at % width, at / width))
    }
}
