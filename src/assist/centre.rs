//! The centre line on a ribbon: the best line of offsets by dynamic
//! programming, then its smooth sub-pixel course.

use nalgebra::{DMatrix, DVector};

use super::ribbon::{Ribbon, gaussian_slope_kernel};
use super::ridge::RidgeKind;
use super::usual::Usual;
use crate::units::FilmPoint;

/// How clearly each place of a ribbon looks like the centre of a ridge,
/// row-major; 1 is what a quarter of the ribbon reaches.
pub(super) struct Evidence {
    pub clarity: Vec<f32>,
    columns: usize,
}

/// A line down a ribbon, one offset a row.
pub(super) struct CentreLine {
    /// Distance from the axis, px.
    pub offsets_px: Vec<f64>,
    /// Clarity under the line.
    pub clarity: Vec<f64>,
}

/// Clarity above which more makes little difference to the course.
const CLARITY_CAP: f32 = 5.0;
/// Smoothing of the slopes, in half widths.
const EDGE_SIGMA: f64 = 0.7;
/// Cost of a change of slope by one column a row.
const TURN_COST: f32 = 0.7;
/// Steepest slope, columns a row.
const MAX_SLOPE: usize = 2;

impl Evidence {
    /// The clarity of ridges of the half widths `half_widths_px`, averaged along
    /// by `along_rows` rows.
    pub fn of(ribbon: &Ribbon, half_widths_px: &[f64], along_rows: f64, kind: RidgeKind) -> Self {
        let along = ribbon.smoothed_along(&ribbon.values, along_rows);
        let mut contrast = two_sided_contrast(ribbon, &along, half_widths_px, kind);
        let unit = USUAL_CONTRAST.size_of(&contrast);
        contrast.iter_mut().for_each(|c| *c /= unit);
        Self {
            clarity: contrast,
            columns: ribbon.columns(),
        }
    }

    /// The line of most clarity that turns little, within `reach` columns of
    /// the middle.
    pub fn best_line(&self, ribbon: &Ribbon, reach: usize) -> CentreLine {
        let rows = ribbon.axis.len();
        let first = ribbon.reach.saturating_sub(reach);
        let width = (2 * reach + 1).min(self.columns);
        let slopes = 2 * MAX_SLOPE + 1;
        let state = |column: usize, slope: usize| column * slopes + slope;
        let mut best = vec![0.0f32; width * slopes];
        let mut came = vec![0u8; rows * width * slopes];
        let mut next = best.clone();
        for row in 0..rows {
            let clarity = &self.clarity[row * self.columns + first..][..width];
            let local: Vec<f32> = clarity
                .iter()
                .map(|c| -saturating(*c, CLARITY_CAP))
                .collect();
            for column in 0..width {
                for slope in 0..slopes {
                    // Slope s: this column came from column − (s − MAX_SLOPE).
                    let from = column as isize - slope as isize + MAX_SLOPE as isize;
                    let mut cost = f32::INFINITY;
                    let mut way = slope as u8;
                    if row == 0 {
                        cost = 0.0;
                    } else if (0..width as isize).contains(&from) {
                        for before in slope.saturating_sub(1)..=(slope + 1).min(slopes - 1) {
                            let turn = TURN_COST * slope.abs_diff(before) as f32;
                            let total = best[state(from as usize, before)] + turn;
                            if total < cost {
                                cost = total;
                                way = before as u8;
                            }
                        }
                    }
                    next[state(column, slope)] = cost + local[column];
                    came[row * width * slopes + state(column, slope)] = way;
                }
            }
            std::mem::swap(&mut best, &mut next);
        }
        let mut at = (0..width * slopes)
            .min_by(|&a, &b| best[a].total_cmp(&best[b]))
            .unwrap_or(0);
        let mut line = CentreLine {
            offsets_px: vec![0.0; rows],
            clarity: vec![0.0; rows],
        };
        for row in (0..rows).rev() {
            let (column, slope) = (at / slopes, at % slopes);
            line.offsets_px[row] = self.peak_near(ribbon, row, first + column);
            line.clarity[row] =
                f64::from(self.clarity[row * self.columns + first + column].max(0.0));
            let before = usize::from(came[row * width * slopes + at]);
            let from = (column + MAX_SLOPE).saturating_sub(slope).min(width - 1);
            at = state(from, before);
        }
        line
    }

    fn offset_px(&self, ribbon: &Ribbon, column: usize) -> f64 {
        (column as f64 - ribbon.reach as f64) * ribbon.column_px
    }

    /// The top of the parabola through the clarity at `column` and beside it.
    fn peak_near(&self, ribbon: &Ribbon, row: usize, column: usize) -> f64 {
        let values = &self.clarity[row * self.columns..][..self.columns];
        let middle = column.clamp(1, self.columns - 2);
        let [a, b, c] = [middle - 1, middle, middle + 1].map(|k| f64::from(values[k]));
        let bend = a - 2.0 * b + c;
        let shift = if bend < 0.0 {
            (0.5 * (a - c) / bend).clamp(-1.0, 1.0)
        } else {
            0.0
        };
        self.offset_px(ribbon, middle) + shift * ribbon.column_px
    }
}

/// For each place the contrast, in opacity, of the ridge centred there: the
/// smaller of the two slopes a half width to either side, times the half
/// width, so that an edge alone gives nothing (Koller et al. 1995,
/// doi 10.1109/ICCV.1995.466846); the largest over the half widths, at least 0.
pub(super) fn two_sided_contrast(
    ribbon: &Ribbon,
    values: &[f32],
    half_widths_px: &[f64],
    kind: RidgeKind,
) -> Vec<f32> {
    let mut contrast = vec![0.0f32; values.len()];
    for &half_width_px in half_widths_px {
        let sides = RidgeSides::of(ribbon, values, half_width_px, kind);
        let gain = (half_width_px / ribbon.column_px) as f32;
        let both = two_sided(&sides.slope, sides.step, ribbon.columns());
        for (contrast, both) in contrast.iter_mut().zip(both) {
            *contrast = contrast.max(gain * both);
        }
    }
    contrast
}

/// The slopes across that the sides of a ridge of one half width have.
pub(super) struct RidgeSides {
    /// Rising on the side of growing column of a ridge.
    pub slope: Vec<f32>,
    /// Half width, whole columns.
    pub step: usize,
}

impl RidgeSides {
    pub fn of(ribbon: &Ribbon, values: &[f32], half_width_px: f64, kind: RidgeKind) -> Self {
        let half_width = half_width_px / ribbon.column_px;
        let kernel = gaussian_slope_kernel(half_width * EDGE_SIGMA);
        let mut slope = ribbon.filtered_across(values, &kernel);
        if kind == RidgeKind::Bright {
            slope.iter_mut().for_each(|s| *s = -*s);
        }
        Self {
            slope,
            step: half_width.round().max(1.0) as usize,
        }
    }
}

/// The smaller of the slopes `step` columns to both sides of each place; 0
/// where one lies off the ribbon.
pub(super) fn two_sided(slope: &[f32], step: usize, columns: usize) -> Vec<f32> {
    let mut smaller = vec![0.0f32; slope.len()];
    for (smaller, slope) in smaller.chunks_mut(columns).zip(slope.chunks(columns)) {
        if let Some(inner) = smaller.get_mut(step..) {
            for (s, sides) in inner.iter_mut().zip(slope.windows(2 * step + 1)) {
                *s = (-sides[0]).min(sides[2 * step]);
            }
        }
    }
    smaller
}

/// What a clarity counts: all of it up to `full`, little of what exceeds it.
pub(super) fn saturating(clarity: f32, full: f32) -> f32 {
    clarity.min(full) + 0.2 * (clarity - full).max(0.0)
}

/// The usual contrast: what a quarter exceeds, and so much of the strongest
/// that the flanks of the only ridge of a plain film are not ridges too.
pub(super) const USUAL_CONTRAST: Usual = Usual {
    quantile: 0.75,
    least_share: 0.04,
};

/// A wish for the smooth course: row, offset px, weight (1/variance, px⁻²).
#[derive(Clone, Copy)]
pub(super) struct Wish {
    pub row: usize,
    pub offset_px: f64,
    pub weight: f64,
}

/// How the smooth course resists: weights on squared second and third
/// differences of the film points.
#[derive(Clone, Copy)]
pub(super) struct Stiffness {
    pub bend: f64,
    pub bend_change: f64,
}

impl Stiffness {
    /// Bending that canals show: radii about 10 mm, changing over 2 mm, in
    /// rows `step_mm` apart.
    pub fn of_canals(px_per_mm: f64, step_mm: f64) -> Self {
        // A typical turn between rows (radius 4.5 mm, within the bends), and
        // its change from row to row over 1 mm; both independent every 2 mm.
        let bend_px = (step_mm * px_per_mm).powi(2) / (4.5 * px_per_mm);
        let bend_change_px = bend_px * step_mm / 1.0;
        let independent = step_mm / 2.0;
        Self {
            bend: 0.3 * independent / (bend_px * bend_px),
            bend_change: independent / (bend_change_px * bend_change_px),
        }
    }
}

/// The offsets whose film points meet the wishes in the least-squares sense
/// while bending little. Bending is that of the film points, not of the
/// offsets, so wiggles of the axis are smoothed too.
pub(super) fn smooth_course(ribbon: &Ribbon, wishes: &[Wish], stiffness: Stiffness) -> Vec<f64> {
    let rows = ribbon.axis.len();
    let mut matrix = DMatrix::<f64>::zeros(rows, rows);
    let mut right = DVector::<f64>::zeros(rows);
    for wish in wishes {
        matrix[(wish.row, wish.row)] += wish.weight;
        right[wish.row] += wish.weight * wish.offset_px;
    }
    let mut add_difference = |weights: &[f64], strength: f64| {
        for start in 0..rows.saturating_sub(weights.len() - 1) {
            let at = |k: usize| (ribbon.axis[start + k], ribbon.across[start + k]);
            let (mut ax, mut ay) = (0.0, 0.0);
            for (k, w) in weights.iter().enumerate() {
                ax += w * at(k).0.x;
                ay += w * at(k).0.y;
            }
            for (j, wj) in weights.iter().enumerate() {
                let nj = at(j).1;
                right[start + j] -= strength * wj * (nj[0] * ax + nj[1] * ay);
                for (k, wk) in weights.iter().enumerate() {
                    let nk = at(k).1;
                    matrix[(start + j, start + k)] +=
                        strength * wj * wk * (nj[0] * nk[0] + nj[1] * nk[1]);
                }
            }
        }
    };
    add_difference(&[1.0, -2.0, 1.0], stiffness.bend);
    add_difference(&[-1.0, 3.0, -3.0, 1.0], stiffness.bend_change);
    for row in 0..rows {
        matrix[(row, row)] += 1e-9;
    }
    match matrix.cholesky() {
        Some(factors) => factors.solve(&right).iter().copied().collect(),
        None => vec![0.0; rows],
    }
}

/// As [`smooth_course`], but each wish of `held` is met within `most_px`: what
/// someone has pointed at is no guess. Those that are missed by more pull four
/// times as hard until they are not.
pub(super) fn course_through(
    ribbon: &Ribbon,
    wishes: &[Wish],
    held: &[Wish],
    most_px: f64,
    stiffness: Stiffness,
) -> Vec<f64> {
    const MOST_ROUNDS: usize = 16;
    let mut all = [wishes, held].concat();
    let mut offsets_px = smooth_course(ribbon, &all, stiffness);
    for _ in 0..MOST_ROUNDS {
        let mut missed = false;
        for wish in &mut all[wishes.len()..] {
            if (offsets_px[wish.row] - wish.offset_px).abs() > most_px {
                wish.weight *= 4.0;
                missed = true;
            }
        }
        if !missed {
            break;
        }
        offsets_px = smooth_course(ribbon, &all, stiffness);
    }
    offsets_px
}

/// The film points of `offsets_px` down the ribbon.
pub(super) fn film_points(ribbon: &Ribbon, offsets_px: &[f64]) -> Vec<FilmPoint> {
    offsets_px
        .iter()
        .enumerate()
        .map(|(row, &offset)| ribbon.film_point(row, offset))
        .collect()
}
