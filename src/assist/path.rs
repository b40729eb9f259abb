//! Cheapest paths over a raster of costs.

use super::AssistError;
use super::raster::Raster;
use crate::progress::Progress;

/// A cheapest path from cell to cell.
#[derive(Clone, Debug, PartialEq)]
pub struct CellPath {
    /// Columns and rows, start to end, each a neighbour of the one before.
    pub cells: Vec<(usize, usize)>,
    /// Sum over the steps of the mean cost of both cells times the step's
    /// length in cells (1 or √2).
    pub cost: f64,
}

/// The 8 neighbours: column step, row step, length.
const STEPS: [(isize, isize, f32); 8] = [
    (1, 0, 1.0),
    (-1, 0, 1.0),
    (0, 1, 1.0),
    (0, -1, 1.0),
    (1, 1, std::f32::consts::SQRT_2),
    (1, -1, std::f32::consts::SQRT_2),
    (-1, 1, std::f32::consts::SQRT_2),
    (-1, -1, std::f32::consts::SQRT_2),
];

/// What the search keeps of a cell, side by side in memory.
#[derive(Clone, Copy)]
struct Node {
    cost: f32,
    distance: f32,
}

/// The cheapest 8-connected path between two cells of `costs` (Dijkstra).
///
/// Cells wait in a ring of buckets no wider than the cheapest step, so that
/// every cell taken out is final (Denardo & Fox 1979, doi 10.1287/opre.27.1.161):
/// the path is exact, without a heap.
///
/// # Errors
/// [`AssistError::Cancelled`]; [`AssistError::Cost`] when a cost is not a finite
/// number above 0, or the costs span more than 1 : 10⁵, or a cell lies outside.
pub fn cheapest_path(
    costs: &Raster,
    start: (usize, usize),
    end: (usize, usize),
    progress: &Progress,
) -> Result<CellPath, AssistError> {
    let (width, height) = (costs.width(), costs.height());
    let inside = |(x, y): (usize, usize)| x < width && y < height;
    let (low, high) = costs
        .values()
        .iter()
        .fold((f32::MAX, 0.0f32), |(low, high), &c| {
            // NaN fails both comparisons and is caught as "not above 0".
            (low.min(if c > 0.0 { c } else { 0.0 }), high.max(c))
        });
    let fits = low > 0.0 && high.is_finite() && high / low < 1e5;
    if !(fits && inside(start) && inside(end)) {
        return Err(AssistError::Cost);
    }

    // A frame of cells that cost too much to enter spares the border tests.
    let stride = width + 2;
    let unreached = |cost| Node {
        cost,
        distance: f32::INFINITY,
    };
    let mut nodes = vec![unreached(f32::INFINITY); stride * (height + 2)];
    for y in 0..height {
        let row = &mut nodes[(y + 1) * stride + 1..][..width];
        for (node, &cost) in row.iter_mut().zip(costs.row(y)) {
            node.cost = cost;
        }
    }
    let index_of = |(x, y): (usize, usize)| ((y + 1) * stride + x + 1) as u32;
    let offsets = STEPS.map(|(dx, dy, _)| (dy * stride as isize + dx) as i32);
    let half_lengths = STEPS.map(|(.., length)| 0.5 * length);

    let (first, last) = (index_of(start), index_of(end));
    nodes[first as usize].distance = 0.0;

    let bucket_width = low;
    let per_bucket = 1.0 / bucket_width;
    let bucket_count = (high * std::f32::consts::SQRT_2 / bucket_width) as usize + 3;
    let ring = bucket_count.next_power_of_two() - 1;
    let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); ring + 1];
    buckets[0].push(first);
    let mut waiting = 1usize;
    let mut current = 0usize;
    let mut taken = Vec::new();
    let mut steps_to_check = 0usize;
    'search: while waiting > 0 {
        std::mem::swap(&mut taken, &mut buckets[current & ring]);
        waiting -= taken.len();
        for &cell in &taken {
            let Node {
                cost,
                distance: here,
            } = nodes[cell as usize];
            // Left behind by a cheaper way found since.
            if ((here * per_bucket) as usize) < current {
                continue;
            }
            if cell == last {
                break 'search;
            }
            for (&offset, &half) in offsets.iter().zip(&half_lengths) {
                let next = cell.wrapping_add_signed(offset);
                let node = &mut nodes[next as usize];
                let there = here + half * (cost + node.cost);
                if there < node.distance {
                    node.distance = there;
                    buckets[(there * per_bucket) as usize & ring].push(next);
                    waiting += 1;
                }
            }
        }
        steps_to_check += taken.len();
        if steps_to_check > 1 << 14 {
            steps_to_check = 0;
            progress.check()?;
        }
        taken.clear();
        // Rounding can put a step into the bucket it starts from.
        if buckets[current & ring].is_empty() {
            current += 1;
        }
    }

    walk_back(&nodes, stride, first as usize, last as usize).ok_or(AssistError::Cost)
}

/// The path that led to `last`: at every cell the neighbour it was reached
/// from; `None` when rounding has hidden it.
fn walk_back(nodes: &[Node], stride: usize, first: usize, last: usize) -> Option<CellPath> {
    let place = |cell: usize| (cell % stride - 1, cell / stride - 1);
    let mut cells = vec![place(last)];
    let mut cost = 0.0f64;
    let mut cell = last;
    while cell != first {
        let step_cost = |before: usize, length: f32| {
            0.5 * f64::from(length) * (f64::from(nodes[cell].cost) + f64::from(nodes[before].cost))
        };
        let (_, step, before) = STEPS
            .iter()
            .map(|&(dx, dy, length)| {
                let before = cell.wrapping_add_signed(dy * stride as isize + dx);
                let step = step_cost(before, length);
                (f64::from(nodes[before].distance) + step, step, before)
            })
            .filter(|&(.., before)| nodes[before].distance < nodes[cell].distance)
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        cost += step;
        cell = before;
        cells.push(place(cell));
    }
    cells.reverse();
    Some(CellPath { cells, cost })
}
