//! The course of a canal: the likeliest line down a ribbon that turns little,
//! from how canal-like the film is along every direction, from the root around
//! it and from the clicks.

use rayon::prelude::*;

use super::centre::{RidgeSides, USUAL_CONTRAST, saturating, two_sided};
use super::pull::Pull;
use super::ribbon::Ribbon;
use super::ridge::RidgeKind;
use super::root::RootBand;

/// Rows of one step; the line is straight within it.
const STEP_ROWS: usize = 3;
/// Steepest step, columns.
const MAX_SHIFT: isize = 8;
/// Number of directions.
const SHIFTS: usize = (2 * MAX_SHIFT + 1) as usize;

/// How clearly a ridge runs through each place in each direction, row-major
/// by direction; 1 is what a quarter of the ribbon reaches at the same width.
pub(super) struct DirectedClarity {
    by_shift: Vec<Vec<f32>>,
}

/// What the likeliest line is weighed by; lengths in px.
pub(super) struct CourseWeights {
    /// Log likelihood per px of way and unit of clarity.
    pub clarity_per_px: f64,
    /// Clarity beyond which more says little more.
    pub full_clarity: f64,
    /// Cost of ∫κ² ds (κ in 1/px), px.
    pub turn_px: f64,
    /// Standard deviation of a canal's place in its root, in half widths, and
    /// the distance over which it is one independent place.
    pub root_spread: f64,
    pub root_independent_px: f64,
}

impl DirectedClarity {
    /// Clarity on `ribbon` (opacity) of ridges of the half widths
    /// `half_widths_px`, averaged by a Gaussian of `along_rows` rows along each
    /// direction.
    pub fn of(ribbon: &Ribbon, half_widths_px: &[f64], along_rows: f64, kind: RidgeKind) -> Self {
        let columns = ribbon.columns();
        let widths: Vec<RidgeSides> = half_widths_px
            .iter()
            .map(|&half_width_px| RidgeSides::of(ribbon, &ribbon.values, half_width_px, kind))
            .collect();
        // What is usual at each width, along the ribbon.
        let units: Vec<f32> = widths
            .par_iter()
            .map(|width| {
                let along = sheared(&width.slope, columns, 0.0, along_rows);
                USUAL_CONTRAST.size_of(&two_sided(&along, width.step, columns))
            })
            .collect();
        let by_shift = (0..SHIFTS)
            .into_par_iter()
            .map(|k| {
                let shear = shift_of(k) as f64 / STEP_ROWS as f64;
                let mut clarity = vec![0.0f32; ribbon.values.len()];
                for (width, unit) in widths.iter().zip(&units) {
                    let along = sheared(&width.slope, columns, shear, along_rows);
                    let contrast = two_sided(&along, width.step, columns);
                    for (best, c) in clarity.iter_mut().zip(contrast) {
                        *best = best.max(c / unit);
                    }
                }
                clarity
            })
            .collect();
        Self { by_shift }
    }
}

fn shift_of(k: usize) -> isize {
    k as isize - MAX_SHIFT
}

/// `values` averaged by a Gaussian of `along_rows` rows along lines that move
/// `shear` columns a row; the ends are weighted by what lies on the ribbon.
fn sheared(values: &[f32], columns: usize, shear: f64, along_rows: f64) -> Vec<f32> {
    let rows = values.len() / columns;
    let reach = (2.5 * along_rows).ceil() as isize;
    let mut out = vec![0.0f32; values.len()];
    for (row, out) in out.chunks_mut(columns).enumerate() {
        let mut sum = 0.0f32;
        for distance in -reach..=reach {
            let other = row as isize + distance;
            if !(0..rows as isize).contains(&other) {
                continue;
            }
            let weight = (-0.5 * (distance as f64 / along_rows).powi(2)).exp() as f32;
            sum += weight;
            let shift = distance as f64 * shear;
            let whole = shift.floor();
            let part = (shift - whole) as f32;
            let (near, far) = (weight * (1.0 - part), weight * part);
            let source = &values[other as usize * columns..][..columns];
            let whole = whole as isize;
            let from = (-whole).clamp(0, columns as isize) as usize;
            let to = (columns as isize - 1 - whole).clamp(0, columns as isize) as usize;
            if from >= to {
                continue;
            }
            let start = (from as isize + whole) as usize;
            let pairs = source[start..].windows(2);
            for (o, pair) in out[from..to].iter_mut().zip(pairs) {
                *o += near * pair[0] + far * pair[1];
            }
        }
        out.iter_mut().for_each(|o| *o /= sum);
    }
    out
}

/// The likeliest line: offsets from the ribbon's middle, px, and clarity
/// under it, row by row.
pub(super) struct Course {
    pub offsets_px: Vec<f64>,
    pub clarity: Vec<f64>,
}

/// Dynamic programming over column and direction, which is exact on this
/// lattice. The ribbon's rows must be whole steps ([`rows_for_whole_steps`]).
pub(super) fn likeliest_course(
    ribbon: &Ribbon,
    clarity: &DirectedClarity,
    row_px: f64,
    root: Option<&RootBand>,
    pulls: &[Pull],
    weights: &CourseWeights,
) -> Course {
    let columns = ribbon.columns();
    let rows = ribbon.axis.len();
    let steps = (rows - 1) / STEP_ROWS;
    let step_px = row_px * STEP_ROWS as f64;
    let headings: Vec<f64> = (0..SHIFTS)
        .map(|k| (shift_of(k) as f64 * ribbon.column_px / step_px).atan())
        .collect();
    let turns: Vec<f32> = headings
        .iter()
        .flat_map(|a| headings.iter().map(move |b| (a - b).powi(2)))
        .map(|squared| (weights.turn_px * squared / step_px) as f32)
        .collect();
    let offset_px = |column: usize| (column as f64 - ribbon.reach as f64) * ribbon.column_px;
    let place_cost = place_costs(ribbon, row_px, root, pulls, weights);
    let gain = (weights.clarity_per_px * row_px) as f32;
    let full = weights.full_clarity as f32;
    let reward = |k: usize, cell: usize| gain * saturating(clarity.by_shift[k][cell], full);

    // State: column reached, shift by which it was reached.
    let mut best = vec![f32::INFINITY; columns * SHIFTS];
    for column in 0..columns {
        best[column * SHIFTS..][..SHIFTS].fill(place_cost[column]);
    }
    let mut came = vec![0u8; steps * columns * SHIFTS];
    for step in 0..steps {
        let first_row = step * STEP_ROWS;
        let mut next = vec![f32::INFINITY; columns * SHIFTS];
        for from in 0..columns {
            let before = &best[from * SHIFTS..(from + 1) * SHIFTS];
            for k in 0..SHIFTS {
                let to = from as isize + shift_of(k);
                if !(0..columns as isize).contains(&to) {
                    continue;
                }
                let mut way = 0.0f32;
                for part in 1..=STEP_ROWS {
                    let moved = 2 * shift_of(k) * part as isize + STEP_ROWS as isize;
                    let across = moved.div_euclid(2 * STEP_ROWS as isize);
                    let cell = (first_row + part) * columns + (from as isize + across) as usize;
                    way += place_cost[cell] - reward(k, cell);
                }
                let (mut least, mut by) = (f32::INFINITY, 0);
                for (j, b) in before.iter().enumerate() {
                    let turn = if step == 0 {
                        0.0
                    } else {
                        turns[j * SHIFTS + k]
                    };
                    if b + turn < least {
                        (least, by) = (b + turn, j);
                    }
                }
                let state = to as usize * SHIFTS + k;
                next[state] = least + way;
                came[step * columns * SHIFTS + state] = by as u8;
            }
        }
        best = next;
    }
    let mut state = (0..columns * SHIFTS)
        .min_by(|&a, &b| best[a].total_cmp(&best[b]))
        .unwrap_or(ribbon.reach * SHIFTS);
    let mut course = Course {
        offsets_px: vec![0.0; rows],
        clarity: vec![0.0; rows],
    };
    for step in (0..steps).rev() {
        let (column, k) = (state / SHIFTS, state % SHIFTS);
        let from = (column as isize - shift_of(k)).clamp(0, columns as isize - 1) as usize;
        for part in 0..=STEP_ROWS {
            let row = step * STEP_ROWS + part;
            let f = part as f64 / STEP_ROWS as f64;
            let offset = offset_px(from) + f * (offset_px(column) - offset_px(from));
            let nearest = (offset / ribbon.column_px).round() + ribbon.reach as f64;
            course.offsets_px[row] = offset;
            course.clarity[row] =
                f64::from(clarity.by_shift[k][row * columns + nearest as usize]).max(0.0);
        }
        let by = usize::from(came[step * columns * SHIFTS + state]);
        state = from * SHIFTS + by;
    }
    course
}

/// Cost of every place that does not depend on the direction.
fn place_costs(
    ribbon: &Ribbon,
    row_px: f64,
    root: Option<&RootBand>,
    pulls: &[Pull],
    weights: &CourseWeights,
) -> Vec<f32> {
    /// A place is never worse than this many standard deviations.
    const FARTHEST: f64 = 3.5;
    let columns = ribbon.columns();
    let mut costs = vec![0.0f32; ribbon.values.len()];
    if let Some(root) = root {
        for (row, costs) in costs.chunks_mut(columns).enumerate() {
            let spread = weights.root_spread * root.half_width_px[row];
            let weight = root.strength[row] * row_px / weights.root_independent_px;
            for (column, cost) in costs.iter_mut().enumerate() {
                let offset = (column as f64 - ribbon.reach as f64) * ribbon.column_px;
                let off = ((offset - root.middle_px[row]) / spread)
                    .abs()
                    .min(FARTHEST);
                *cost += (0.5 * weight * off * off) as f32;
            }
        }
    }
    for pull in pulls {
        for (column, cost) in costs[pull.row * columns..][..columns]
            .iter_mut()
            .enumerate()
        {
            let offset = (column as f64 - ribbon.reach as f64) * ribbon.column_px;
            *cost += (0.5 * ((offset - pull.offset_px) / pull.sigma_px).powi(2)) as f32;
        }
    }
    costs
}

/// The number of rows that whole steps need, nearest to `rows`.
pub(super) fn rows_for_whole_steps(rows: usize) -> usize {
    (rows.saturating_sub(1).div_ceil(STEP_ROWS)).max(2) * STEP_ROWS + 1
}
