//! Bends of any shape: curvature as a penalised spline.
//!
//! The path is cut into [`PIECES`] equal arcs. Their turns are free between two
//! of the cuts and zero outside: a straight piece, a bend in which the
//! curvature does what the points say, a straight piece. The curvature along
//! the bend is held together by a random walk, whose stiffness the points
//! decide: every stiffness and every pair of cuts is a model of its own,
//! weighed by its marginal likelihood (Wahba G. J R Stat Soc B 1978;40:364–72:
//! a smoothing spline is the mean of such a walk given the points). Near the
//! points the path is linear in its parameters, so that a possible path is one
//! product of a matrix away from the points that it would have given.

use arrayvec::ArrayVec;

mod form;
mod linearised;
mod penalised;

use super::noise::{Judged, NoiseGrid};
use crate::geometry::straight_arc_path::StraightArcPath;
pub use form::{SHAPE_MODES, SmoothForm};
pub(super) use linearised::Trace;
use linearised::{Linearised, base_log_determinant, parameters_of};
use penalised::{Factor, Reached, Solved, Walk};

/// Arcs of equal length that a smooth path is made of.
pub(super) const PIECES: usize = 24;
/// Place, heading and length.
const BASE: usize = 4;
const ALL: usize = BASE + PIECES;
/// Standard deviation of the curvature where a bend starts, over the path's
/// length.
const FIRST_CURVATURE: f64 = 1.5;
/// The same of its slope.
const FIRST_SLOPE: f64 = 4.0;
/// Stiffest and loosest walk of the curvature and of its slope: standard
/// deviation of the change over the path's length, in powers of that length.
const WALK: [[f64; 2]; 2] = [[0.4, 40.0], [1.0, 250.0]];

type Vector = [f64; ALL];

/// Pieces at which a bend may start and end.
const FIRSTS: [usize; 7] = [0, 3, 6, 9, 12, 15, 18];
const LASTS: [usize; 4] = [PIECES - 9, PIECES - 6, PIECES - 3, PIECES];
/// A bend spans more pieces than this.
const SHORTEST: usize = 3;
/// Walks by which every stretch is tried first.
const FEW: usize = 2;
/// Stretches whose logarithm of evidence lies this much below the best are left.
const STRETCH_REACH: f64 = 8.0;

/// One smooth model in the competition.
#[derive(Clone, Debug)]
pub(super) struct SmoothEntry {
    first: usize,
    last: usize,
    walk: Walk,
    pub chi_square: f64,
    pub judged: Judged,
}

impl SmoothEntry {
    /// Its slope walks up to the apex.
    pub fn rises_to_apex(&self) -> bool {
        self.walk.slope.is_some() && self.last == PIECES
    }

    /// Kind of the model: which of curvature and slope walks, and whether it
    /// ends straight.
    pub fn class(&self) -> usize {
        4 + 4 * usize::from(self.walk.slope.is_some())
            + 2 * usize::from(self.first > 0)
            + usize::from(self.last < PIECES)
    }

    /// Too near each other to be two forms.
    pub fn is_like(&self, other: &Self) -> bool {
        self.first.abs_diff(other.first) + self.last.abs_diff(other.last) <= 2
            && self.walk.slope == other.walk.slope
            && (self.walk.stiffness / other.walk.stiffness).ln().abs() < 3.0
    }
}

/// The smooth models of a trace.
pub(super) struct SmoothFamily<'a> {
    trace: Trace<'a>,
    /// About a path near the points.
    lin: Linearised,
    grid: &'a NoiseGrid,
    /// Walks tried.
    walks: Vec<Walk>,
}

impl<'a> SmoothFamily<'a> {
    pub fn new(
        trace: Trace<'a>,
        near: &StraightArcPath,
        least_sd: f64,
        grid: &'a NoiseGrid,
    ) -> Self {
        let lin = Linearised::about(&parameters_of(near), &trace);
        let share = 1.0 / PIECES as f64;
        // In shares of the path: a turn is curvature × length / PIECES, the walk
        // of curvature over one piece has WALK · share^½.
        let level = (trace.point_sd / (FIRST_CURVATURE * share)).powi(2);
        let slope = (trace.point_sd / (FIRST_SLOPE * share.powi(2))).powi(2);
        let mut walks = Vec::new();
        for (order, range) in WALK.iter().enumerate() {
            let power = order as f64 + 1.5;
            let stiffness = |sd: f64, walk: f64| (sd / (walk * share.powf(power))).powi(2);
            let loosest = stiffness(least_sd, range[1]);
            let stiffest = stiffness(trace.point_sd, range[0]);
            let count = ((stiffest / loosest).ln() / 8f64.ln()).ceil().max(1.0) as usize;
            walks.extend((0..=count).map(|k| Walk {
                level,
                slope: (order == 1).then_some(slope),
                stiffness: loosest * (stiffest / loosest).powf(k as f64 / count as f64),
            }));
        }
        Self {
            trace,
            lin,
            grid,
            walks,
        }
    }

    /// Walks tried for each stretch.
    pub fn walk_count(&self) -> usize {
        self.walks.len()
    }

    /// The models, best first.
    pub fn entries(&self) -> Vec<SmoothEntry> {
        let base = base_log_determinant(&self.lin);
        // Each stretch by two walks first, then those within reach by all.
        let middle = self.walks.len() / 4;
        let few: [usize; FEW] = [middle, self.walks.len() - 1 - middle];
        let mut entries = Vec::new();
        let everywhere = |first: usize| LASTS.into_iter().filter(move |l| first + SHORTEST < *l);
        for first in FIRSTS {
            let mut factor = Factor::new(first);
            for walk in few {
                let lasts = everywhere(first);
                self.try_lasts(&mut factor, base, (first, lasts), walk, &mut entries);
            }
        }
        let log_of = |entry: &SmoothEntry| entry.judged.log_evidence;
        let best = entries.iter().map(log_of).fold(f64::NEG_INFINITY, f64::max);
        let least = best - STRETCH_REACH;
        let within: Vec<[usize; 2]> = entries
            .iter()
            .filter(|entry| log_of(entry) >= least)
            .map(|entry| [entry.first, entry.last])
            .collect();
        entries.retain(|entry| within.contains(&[entry.first, entry.last]));
        for first in FIRSTS {
            let mut factor = Factor::new(first);
            let lasts: ArrayVec<usize, { LASTS.len() }> = everywhere(first)
                .filter(|last| within.contains(&[first, *last]))
                .collect();
            for walk in (0..self.walks.len()).filter(|walk| !few.contains(walk)) {
                let lasts = lasts.iter().copied();
                self.try_lasts(&mut factor, base, (first, lasts), walk, &mut entries);
            }
        }
        entries.sort_by(|a, b| log_of(b).total_cmp(&log_of(a)));
        entries
    }

    fn try_lasts(
        &self,
        factor: &mut Factor,
        base: f64,
        (first, lasts): (usize, impl Iterator<Item = usize> + Clone),
        walk: usize,
        out: &mut Vec<SmoothEntry>,
    ) {
        let variance = self.trace.point_sd.powi(2);
        let residuals = self.trace.points.len() + 2;
        let walk = self.walks[walk];
        factor.of_lasts(&self.lin, &walk, lasts, |last, reached: Reached| {
            let chi_square = ((self.lin.square - reached.explained) / variance).max(0.0);
            let log_prior = walk.log_determinant(last - first);
            let of_stretch = stretch_log_prior(first, last);
            let cost = reached.log_determinant - base - log_prior - 2.0 * of_stretch;
            let dof = residuals as f64 - BASE as f64;
            out.push(SmoothEntry {
                first,
                last,
                walk,
                chi_square,
                judged: self.grid.judge(chi_square, dof, cost),
            });
        });
    }

    /// The form of a model with the number of parameters it amounts to; see
    /// [`SmoothForm::new`].
    pub fn form(&self, entry: &SmoothEntry, open: f64) -> Option<(SmoothForm, f64)> {
        let stretch = [entry.first, entry.last];
        let solve = |lin: &Linearised, walk: &Walk| Solved::new(lin, stretch[0], stretch[1], walk);
        let nearer = solve(&self.lin, &entry.walk)?.solution();
        let again = Linearised::about(&nearer, &self.trace);
        let parameters = solve(&again, &entry.walk)?.solution();
        let lin = Linearised::about(&parameters, &self.trace);
        // Points that scatter less than stated show a looser walk than the
        // statement would; what they may do is still as stated.
        let walk = Walk {
            stiffness: entry.walk.stiffness / entry.judged.variance_ratio.min(1.0),
            ..entry.walk
        };
        let solved = solve(&lin, &walk)?;
        let sd = self.trace.point_sd * entry.judged.variance_ratio.max(1.0).sqrt();
        let found = SmoothForm::new(lin, solved, (parameters, walk), stretch, [sd, open]);
        Some(found)
    }
}

/// How likely a bend is to start and end there before any point is seen.
fn stretch_log_prior(first: usize, last: usize) -> f64 {
    const FROM_ORIFICE: f64 = 0.4;
    const TO_APEX: f64 = 0.6;
    let start = if first == 0 {
        FROM_ORIFICE
    } else {
        (1.0 - FROM_ORIFICE) / (FIRSTS.len() - 1) as f64
    };
    let end = if last == PIECES {
        TO_APEX
    } else {
        (1.0 - TO_APEX) / (LASTS.len() - 1) as f64
    };
    f64::ln(start * end)
}
