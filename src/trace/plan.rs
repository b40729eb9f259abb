//! The cheapest line down a ribbon of costs when turning costs too.

use super::ribbon::Ribbon;
use crate::units::FilmPoint;

/// Rows of one step; the line is straight within it.
const STEP_ROWS: usize = 3;
/// Steepest step, columns.
const MAX_SHIFT: isize = 8;

/// The line from row to row of `costs` (per px of way) that is cheapest
/// together with `turn_cost_px2 · ∫κ² ds`, κ its curvature in 1/px: dynamic
/// programming over column and direction, which is exact on this lattice.
/// Both ends lie within `end_offset_px` of the ribbon's middle.
pub(super) fn least_turning_line(
    costs: &Ribbon,
    row_px: f64,
    turn_cost_px2: f64,
    end_offset_px: f64,
) -> Vec<FilmPoint> {
    let columns = costs.columns();
    let shifts = (2 * MAX_SHIFT + 1) as usize;
    let steps = (costs.axis.len() - 1) / STEP_ROWS;
    let shift_of = |k: usize| k as isize - MAX_SHIFT;
    let step_px = row_px * STEP_ROWS as f64;
    let headings: Vec<f64> = (0..shifts)
        .map(|k| (shift_of(k) as f64 * costs.column_px / step_px).atan())
        .collect();
    let turns: Vec<f32> = headings
        .iter()
        .flat_map(|a| headings.iter().map(move |b| (a - b).powi(2)))
        .map(|squared| (turn_cost_px2 * squared / step_px) as f32)
        .collect();
    let lengths: Vec<f32> = headings
        .iter()
        .map(|heading| (step_px / heading.cos()) as f32)
        .collect();
    let offset_px = |column: usize| (column as f64 - costs.reach as f64) * costs.column_px;
    let at_end = |column: usize| offset_px(column).abs() <= end_offset_px;

    // State: column reached, shift by which it was reached.
    let mut best: Vec<f32> = (0..columns * shifts)
        .map(|state| {
            if at_end(state / shifts) {
                0.0
            } else {
                f32::INFINITY
            }
        })
        .collect();
    let mut came = vec![0u8; steps * columns * shifts];
    for step in 0..steps {
        let row = |k: usize| {
            let start = (step * STEP_ROWS + k) * columns;
            &costs.values[start..start + columns]
        };
        let (first, rows) = (row(0), [row(1), row(2), row(3)]);
        let mut next = vec![f32::INFINITY; columns * shifts];
        for from in 0..columns {
            let before = &best[from * shifts..(from + 1) * shifts];
            if before.iter().all(|b| b.is_infinite()) {
                continue;
            }
            for k in 0..shifts {
                let to = from as isize + shift_of(k);
                if !(0..columns as isize).contains(&to) {
                    continue;
                }
                let mut way = 0.5 * first[from];
                for (i, row) in rows.iter().enumerate() {
                    let part = shift_of(k) * (i as isize + 1);
                    // Rounded to the nearest column.
                    let across = (2 * part + STEP_ROWS as isize).div_euclid(2 * STEP_ROWS as isize);
                    let cost = row[(from as isize + across) as usize];
                    way += if i + 1 == STEP_ROWS { 0.5 * cost } else { cost };
                }
                way *= lengths[k] / STEP_ROWS as f32;
                let (mut least, mut by) = (f32::INFINITY, 0);
                for (j, b) in before.iter().enumerate() {
                    let turn = if step == 0 {
                        0.0
                    } else {
                        turns[j * shifts + k]
                    };
                    if b + turn < least {
                        (least, by) = (b + turn, j);
                    }
                }
                let state = to as usize * shifts + k;
                next[state] = least + way;
                came[step * columns * shifts + state] = by as u8;
            }
        }
        best = next;
    }
    let mut state = (0..columns * shifts)
        .filter(|&state| at_end(state / shifts))
        .min_by(|&a, &b| best[a].total_cmp(&best[b]))
        .unwrap_or(costs.reach * shifts);
    let mut line = Vec::with_capacity(steps + 1);
    for step in (0..=steps).rev() {
        let (column, k) = (state / shifts, state % shifts);
        line.push(costs.film_point(step * STEP_ROWS, offset_px(column)));
        if step > 0 {
            let by = usize::from(came[(step - 1) * columns * shifts + state]);
            let from = column as isize - shift_of(k);
            state = from.clamp(0, columns as isize - 1) as usize * shifts + by;
        }
    }
    line.reverse();
    line
}

/// The number of rows that whole steps need, nearest to `rows`.
pub(super) fn rows_for_whole_steps(rows: usize) -> usize {
    (rows.saturating_sub(1).div_ceil(STEP_ROWS)).max(2) * STEP_ROWS + 1
}
