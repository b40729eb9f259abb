//! How well each edge of a followed wall is known, read from the picture.
//!
//! What a fit leaves of a section is noise and misfit. Noise is another one in
//! each section; its own spread and the way its values hang together give the
//! part of an edge's uncertainty that no other edge shares. Misfit (a reflection,
//! a streak of dye, compression, a blur that is no normal one) is alike in
//! neighbouring sections: what their mean still shows gives the part they share,
//! together with what the blur leaves open.

use super::section_fit::Edges;
use crate::statistics::quantile;

/// Sections to each side that are taken together.
const SECTIONS: usize = 5;

/// Way along a wall over which edges are taken to err alike, px (our own choice:
/// on rendered blocks of the tuning set errors 5 px apart correlate by 0.41, 20 px
/// by 0.06, and 40 to 80 px still by 0.04).
pub const COMMON_OVER_PX: f64 = 40.0;

/// Edges scatter by this much more than the noise that a fit leaves tells: what
/// the fit took up of it is gone (measured on rendered blocks of the tuning set).
const OVER_NOISE: f64 = 1.2;

/// An edge is off by what its misfit would move it by if this share of it looked
/// like a moved edge (our own choice: all of it).
const OF_MISFIT: f64 = 1.0;

/// What interpolation between px leaves, px.
const SAMPLING_PX: f64 = 0.02;

/// Offsets from an edge that are taken for the misfit there, in blurs.
const REACH_BLURS: f64 = 3.0;

/// Sections so far apart are compared for their noise: grain of several px is
/// alike in those side by side.
const APART: usize = 3;

/// Values that a fit takes up: as many as it has free parameters.
const FITTED: f64 = 8.0;

/// Greatest distance of values whose noise is taken to hang together, px.
const LAGS: usize = 12;

/// The blur at a section.
#[derive(Clone, Copy, Debug)]
pub struct LocalBlur {
    /// Standard deviation, px.
    pub px: f64,
    /// Its standard uncertainty, px.
    pub u_px: f64,
}

/// Standard uncertainty of one edge, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// That no other edge shares.
    pub own_px: f64,
    /// That its neighbours share.
    pub common_px: f64,
}

/// The doubts of both edges of the sections kept, each with its place among all.
pub fn doubts(kept: &[(usize, Edges)], blurs: &[Option<LocalBlur>]) -> Vec<[Doubt; 2]> {
    let noises: Vec<Noise> = (0..kept.len()).map(|k| Noise::about(kept, k)).collect();
    let scatters = [0, 1].map(|side| scatter(kept, side));
    let of_edge = |k: usize, side: usize| {
        let (place, edges) = &kept[k];
        let by_noise = noises[k].of_edge(&edges.gains[side]);
        let misfit = misfit_px(kept, k, side, noises[k].variance());
        let blur = blurs[*place].map_or(0.0, |blur| blur.u_px * edges.by_blur[side].abs());
        Doubt {
            own_px: (OVER_NOISE * by_noise.max(scatters[side][k])).hypot(SAMPLING_PX),
            common_px: (OF_MISFIT * misfit).hypot(blur).max(SAMPLING_PX),
        }
    };
    (0..kept.len())
        .map(|k| [0, 1].map(|side| of_edge(k, side)))
        .collect()
}

fn around(k: usize, count: usize) -> std::ops::Range<usize> {
    k.saturating_sub(SECTIONS)..(k + SECTIONS + 1).min(count)
}

/// Products of what fits leave at a distance from each other, grey², by lag.
struct Noise {
    by_lag: [f64; LAGS + 1],
}

impl Noise {
    /// Over the sections around one: what differs between sections that are near,
    /// so that misfit, which they share, is no part of it.
    fn about(kept: &[(usize, Edges)], k: usize) -> Self {
        let mut sums = [0.0; LAGS + 1];
        let mut counts = [0.0; LAGS + 1];
        for pair in kept[around(k, kept.len())].windows(1 + APART) {
            let (one, other) = (&pair[0].1, &pair[APART].1);
            // Values side by side along the canal's middle.
            let shift = aligned(one, other);
            let difference = |i: usize| {
                let j = i.checked_add_signed(shift)?;
                let difference = one.residuals.get(i)? - other.residuals.get(j)?;
                (!difference.is_nan()).then_some(difference)
            };
            let differences: Vec<f64> = (0..one.residuals.len()).filter_map(difference).collect();
            for lag in 0..=LAGS {
                let products = differences.iter().zip(differences.iter().skip(lag));
                sums[lag] += products.map(|(a, b)| a * b).sum::<f64>();
                let free = differences.len() as f64 - FITTED;
                counts[lag] += (free - lag as f64).max(1.0);
            }
        }
        // A difference has twice the variance.
        Self {
            by_lag: std::array::from_fn(|lag| 0.5 * sums[lag] / f64::max(counts[lag], 1.0)),
        }
    }

    fn variance(&self) -> f64 {
        self.by_lag[0]
    }

    /// Standard deviation of an edge with these gains, px.
    fn of_edge(&self, gains: &[f64]) -> f64 {
        let mut variance = 0.0;
        for (lag, product) in self.by_lag.iter().enumerate() {
            let pairs = gains.iter().zip(gains.iter().skip(lag));
            let sum: f64 = pairs.map(|(a, b)| a * b).sum();
            variance += product * sum * if lag == 0 { 1.0 } else { 2.0 };
        }
        variance.max(0.0).sqrt()
    }
}

/// How many values later the same offset from the canal's middle comes in the
/// other section.
fn aligned(one: &Edges, other: &Edges) -> isize {
    let middle = |edges: &Edges| 0.5 * (edges.at[0] + edges.at[1]);
    let first = |edges: &Edges| edges.offsets.first().copied().unwrap_or(0.0);
    let from = first(one) - middle(one);
    let to = first(other) - middle(other);
    (from - to).round() as isize
}

/// What an edge would be off by if the mean misfit of the sections around looked
/// like a moved edge, px.
fn misfit_px(kept: &[(usize, Edges)], k: usize, side: usize, noise: f64) -> f64 {
    let edges = &kept[k].1;
    let near = around(k, kept.len());
    let reach = (REACH_BLURS * edges.blur).ceil().max(2.0) as i32;
    let mut squares = 0.0;
    let mut count = 0.0;
    for step in -reach..=reach {
        let values = kept[near.clone()].iter().filter_map(|(_, edges)| {
            let at = edges.at[side] + f64::from(step);
            let index = (at - edges.offsets.first()?).round();
            let residual = (index >= 0.0).then(|| edges.residuals.get(index as usize))??;
            (!residual.is_nan()).then_some(*residual)
        });
        let values: Vec<f64> = values.collect();
        if values.is_empty() {
            continue;
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        squares += mean * mean - noise / n;
        count += 1.0;
    }
    let misfit = (squares / f64::max(count, 1.0)).max(0.0).sqrt();
    // Root mean square over the reach of the grey that an edge moved by 1 px
    // leaves: its contrast over the blur times a normal density (whose square has
    // the integral 1 / 2√π).
    let density = (0.5 / std::f64::consts::PI.sqrt() / (2.0 * REACH_BLURS)).sqrt();
    misfit * edges.blur / (density * edges.contrast[side])
}

/// Standard deviation of single edges about a line through their neighbours, px,
/// by the median of second differences around each.
fn scatter(kept: &[(usize, Edges)], side: usize) -> Vec<f64> {
    let second = |i: usize| {
        let [a, b, c] = [i.checked_sub(1)?, i, i + 1].map(|k| kept.get(k));
        let ((p, a), (q, b), (r, c)) = (a?, b?, c?);
        // In a row: none is missing between.
        (q - p == 1 && r - q == 1).then(|| a.at[side] - 2.0 * b.at[side] + c.at[side])
    };
    (0..kept.len())
        .map(|k| {
            let near = k.saturating_sub(2 * SECTIONS)..(k + 2 * SECTIONS + 1).min(kept.len());
            let mut values: Vec<f64> = near.filter_map(second).map(f64::abs).collect();
            // Of a normal spread, whose second differences have √6 of it.
            quantile(&mut values, 0.5).map_or(0.0, |m| m / 0.6745 / 6f64.sqrt())
        })
        .collect()
}
