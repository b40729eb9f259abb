//! The root around a canal: its two sides on a ribbon.

use super::pull::Pull;
use super::ribbon::{Ribbon, gaussian_slope_kernel};
use super::usual::Usual;

/// One root, row by row of a ribbon.
pub(super) struct RootBand {
    /// Mid-line, px from the axis.
    pub middle_px: Vec<f64>,
    /// Half the root's width, px.
    pub half_width_px: Vec<f64>,
    /// How clearly both sides show, 0..=1.
    pub strength: Vec<f64>,
}

/// What is sought, px.
pub(super) struct RootSearch {
    /// Least and greatest half width.
    pub half_width_px: [f64; 2],
    /// How far the mid-line may lie from the axis.
    pub reach_px: f64,
    /// Smoothing across of the sides (σ), px.
    pub side_sigma_px: f64,
    /// Smoothing along (σ), rows.
    pub along_rows: f64,
    /// An instrument stands in the canal; its sides are not the root's.
    pub instrument: bool,
    /// How much an anchor counts against one row's sides.
    pub anchor_weight: f64,
}

/// Rows with an instrument are clipped here: it takes up less than the rest.
const CLIP_QUANTILE: f64 = 0.88;
/// The usual slope: the median. Noise of a plain film has no sides.
const USUAL_SLOPE: Usual = Usual {
    quantile: 0.5,
    least_share: 0.01,
};
/// Slopes count up to this many times the usual slope.
const SLOPE_CAP: f32 = 3.0;
/// Smoothing of the coarse slope against that of the fine one.
const COARSE_SIDE: f64 = 2.0;
/// Cost of moving the mid-line, or of widening, by one column a row.
const MOVE_COST: f32 = 0.25;
const WIDEN_COST: f32 = 0.8;
/// Furthest move a row, columns.
const MAX_MOVE: isize = 2;

/// The two sides of the root on `opacity`, found together so that one strong
/// side cannot stand for both: at every row the inner side is brighter, the
/// mid-line runs smoothly and the width changes little.
/// `anchors` are places where the mid-line should be.
pub(super) fn find_root(opacity: &Ribbon, search: &RootSearch, anchors: &[Pull]) -> RootBand {
    let columns = opacity.columns();
    let rows = opacity.axis.len();
    let mut along = opacity.smoothed_along(&opacity.values, search.along_rows);
    if search.instrument {
        for row in along.chunks_mut(columns) {
            clip_to_quantile(row, CLIP_QUANTILE);
        }
    }
    let kernel = gaussian_slope_kernel(search.side_sigma_px / opacity.column_px);
    let slope = opacity.filtered_across(&along, &kernel);
    let usual = USUAL_SLOPE.size_of(&slope);
    // Seen more coarsely the bright lamina around a root makes no side.
    let coarse = COARSE_SIDE * search.side_sigma_px / opacity.column_px;
    let coarse_slope = opacity.filtered_across(&along, &gaussian_slope_kernel(coarse));
    let coarse_usual = USUAL_SLOPE.size_of(&coarse_slope);

    let in_columns = |px: f64| (px / opacity.column_px).round() as isize;
    let [narrow, wide] = search.half_width_px.map(in_columns);
    let widths = (wide - narrow + 1).max(1) as usize;
    let reach = in_columns(search.reach_px);
    let middles = (2 * reach + 1) as usize;
    let state = |middle: usize, width: usize| middle * widths + width;
    // Both sides at once: the geometric mean of their slopes, 0..=1.
    let sides = |row: usize, middle: usize, width: usize| -> f32 {
        let at = |column: isize, sign: f32| {
            if !(0..columns as isize).contains(&column) {
                return 0.0;
            }
            let i = row * columns + column as usize;
            let fine = (sign * slope[i] / usual).clamp(0.0, SLOPE_CAP);
            let coarse = (sign * coarse_slope[i] / coarse_usual).clamp(0.0, SLOPE_CAP);
            (fine * coarse).sqrt() / SLOPE_CAP
        };
        let centre = opacity.reach as isize + middle as isize - reach;
        let half = width as isize + narrow;
        (at(centre - half, 1.0) * at(centre + half, -1.0)).sqrt()
    };

    let mut anchored = vec![0.0f32; rows * middles];
    for anchor in anchors {
        for (m, cost) in anchored[anchor.row * middles..][..middles]
            .iter_mut()
            .enumerate()
        {
            let middle_px = (m as isize - reach) as f64 * opacity.column_px;
            let off = ((middle_px - anchor.offset_px) / anchor.sigma_px)
                .abs()
                .min(4.0);
            *cost += (0.5 * search.anchor_weight * off * off) as f32;
        }
    }

    let mut best = vec![0.0f32; middles * widths];
    let mut came = vec![0u8; rows * middles * widths];
    for row in 0..rows {
        let mut next = vec![f32::NEG_INFINITY; middles * widths];
        for middle in 0..middles {
            for width in 0..widths {
                let (mut top, mut way) = (f32::NEG_INFINITY, 0u8);
                for move_by in -MAX_MOVE..=MAX_MOVE {
                    for widen_by in -1isize..=1 {
                        let (m, w) = (middle as isize - move_by, width as isize - widen_by);
                        let inside =
                            (0..middles as isize).contains(&m) && (0..widths as isize).contains(&w);
                        if !inside {
                            continue;
                        }
                        let cost = MOVE_COST * (move_by * move_by) as f32
                            + WIDEN_COST * widen_by.abs() as f32;
                        let total = best[state(m as usize, w as usize)] - 0.1 * cost;
                        if total > top {
                            top = total;
                            way = ((move_by + MAX_MOVE) * 3 + widen_by + 1) as u8;
                        }
                    }
                }
                next[state(middle, width)] =
                    top + sides(row, middle, width) - anchored[row * middles + middle];
                came[row * middles * widths + state(middle, width)] = way;
            }
        }
        best = next;
    }

    let mut at = (0..best.len())
        .max_by(|&a, &b| best[a].total_cmp(&best[b]))
        .unwrap_or(0);
    let mut band = RootBand {
        middle_px: vec![0.0; rows],
        half_width_px: vec![0.0; rows],
        strength: vec![0.0; rows],
    };
    for row in (0..rows).rev() {
        let (middle, width) = (at / widths, at % widths);
        band.middle_px[row] = (middle as isize - reach) as f64 * opacity.column_px;
        band.half_width_px[row] = (width as isize + narrow) as f64 * opacity.column_px;
        band.strength[row] = f64::from(sides(row, middle, width));
        let way = isize::from(came[row * middles * widths + at]);
        let (move_by, widen_by) = (way / 3 - MAX_MOVE, way % 3 - 1);
        let m = (middle as isize - move_by).clamp(0, middles as isize - 1) as usize;
        let w = (width as isize - widen_by).clamp(0, widths as isize - 1) as usize;
        at = state(m, w);
    }
    band
}

/// Lowers what is brighter than the quantile to it: instruments and fillings
/// in the root then have no sides of their own.
fn clip_to_quantile(row: &mut [f32], quantile: f64) {
    let mut sorted = row.to_vec();
    let rank = ((sorted.len() - 1) as f64 * quantile) as usize;
    let (_, &mut limit, _) = sorted.select_nth_unstable_by(rank, f32::total_cmp);
    row.iter_mut().for_each(|v| *v = v.min(limit));
}
