//! Start values of the fit.
//!
//! They need no luck. The heading of the chords along the trace is, for a path
//! of straight pieces and arcs, piecewise linear in arc length; with its knots
//! on a grid it is linear regression, and all knots of a grid are tried.

use arrayvec::ArrayVec;
use kurbo::Point;

use super::structure::{MAX_PARAMETERS, PieceKind, Row, Structure};
use crate::geometry::straight_arc_path::MAX_ARCS;

/// Intervals of the knot grid by number of arcs.
const GRID: [usize; MAX_ARCS + 1] = [1, 12, 12, 8];
/// Most chords the headings are taken from; longer traces are thinned.
const MOST_CHORDS: usize = 20;
/// Starts kept for each structure.
const STARTS: usize = 2;
/// Starts followed in the structure with all straight pieces.
const FULL_STARTS: usize = 4;
/// Starts followed where the points are too few for that one, each in its own.
const OTHER_STARTS: usize = 8;

/// Headings of the chords of a trace along its length.
pub(super) struct ChordHeadings {
    /// Length along the chords to each end of a chord.
    stations: Vec<f64>,
    /// Heading of each chord, rad, without jumps.
    headings: Vec<f64>,
}

impl ChordHeadings {
    pub fn new(points: &[Point]) -> Self {
        let chords = (points.len() - 1).min(MOST_CHORDS);
        let at = |k: usize| points[k * (points.len() - 1) / chords];
        let mut stations = vec![0.0];
        let mut headings: Vec<f64> = Vec::with_capacity(chords);
        for k in 0..chords {
            let chord = at(k + 1) - at(k);
            stations.push(stations[k] + chord.hypot());
            let heading = chord.atan2();
            let turns = headings.last().map_or(0.0, |&before| {
                ((before - heading) / std::f64::consts::TAU).round()
            });
            headings.push(heading + turns * std::f64::consts::TAU);
        }
        Self { stations, headings }
    }

    fn length(&self) -> f64 {
        self.stations[self.headings.len()]
    }

    /// The most promising parameters of structures of `arcs` arcs: of the one
    /// with all straight pieces, or of several where that one has more
    /// parameters than there are residuals.
    pub fn starts(
        &self,
        start: Point,
        arcs: usize,
        residual_count: usize,
    ) -> Vec<(Structure, Row)> {
        let grid = GRID[arcs];
        let regression = Regression::new(self, grid);
        let mut best = Shortlists::default();
        regression.try_knots(arcs, &mut Knots::new(), &mut best);
        let row = |trial: &Trial| {
            let structure = trial.structure(grid)?;
            let parameters = trial.parameters(start, self.length() / grid as f64, grid);
            Some((structure, parameters))
        };
        let fits = |structure: &Structure| structure.parameter_count() <= residual_count;
        let mut trials: Vec<Trial> = best.0.into_iter().flatten().collect();
        trials.sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
        let in_full = |trial: &Trial| {
            let (structure, parameters) = row(trial)?;
            Some(structure.with_all_straights(&parameters)).filter(|(full, _)| fits(full))
        };
        let in_its_own = |trial: &Trial| row(trial).filter(|(structure, _)| fits(structure));
        let full = far_apart(&trials, in_full, FULL_STARTS);
        if full.is_empty() {
            far_apart(&trials, in_its_own, OTHER_STARTS)
        } else {
            full
        }
    }
}

/// What `of_trial` makes of the first `most` trials for which it makes
/// anything, none near one before it.
fn far_apart<T>(trials: &[Trial], of_trial: impl Fn(&Trial) -> Option<T>, most: usize) -> Vec<T> {
    let mut chosen: Vec<(&Trial, T)> = Vec::with_capacity(most);
    for trial in trials {
        if chosen.len() == most {
            break;
        }
        if chosen.iter().all(|(other, _)| !other.is_near(trial)) {
            chosen.extend(of_trial(trial).map(|made| (trial, made)));
        }
    }
    chosen.into_iter().map(|(_, made)| made).collect()
}

/// Grid indices of the start and end of each arc.
type Knots = ArrayVec<usize, { 2 * MAX_ARCS }>;

/// Knots tried, with the regression's answer.
#[derive(Clone)]
struct Trial {
    knots: Knots,
    heading: f64,
    turns: ArrayVec<f64, MAX_ARCS>,
    misfit: f64,
}

impl Trial {
    fn structure(&self, grid: usize) -> Option<Structure> {
        let mut kinds = Vec::new();
        let mut reached = 0;
        for arc in self.knots.chunks_exact(2) {
            if arc[0] > reached {
                kinds.push(PieceKind::Straight);
            }
            kinds.push(PieceKind::Arc);
            reached = arc[1];
        }
        if reached < grid {
            kinds.push(PieceKind::Straight);
        }
        Structure::new(&kinds)
    }

    /// Parameters of the structure with these knots, `step` apart.
    fn parameters(&self, start: Point, step: f64, grid: usize) -> Row {
        let mut row = [0.0; MAX_PARAMETERS];
        (row[0], row[1], row[2]) = (start.x, start.y, self.heading);
        let mut next = 3;
        let mut reached = 0;
        let mut put = |value: f64| {
            row[next] = value;
            next += 1;
        };
        for (arc, &turn) in self.knots.chunks_exact(2).zip(&self.turns) {
            if arc[0] > reached {
                put((arc[0] - reached) as f64 * step);
            }
            put((arc[1] - arc[0]) as f64 * step);
            put(turn);
            reached = arc[1];
        }
        if reached < grid {
            put((grid - reached) as f64 * step);
        }
        row
    }

    fn is_near(&self, other: &Self) -> bool {
        let moved = |(a, b): (&usize, &usize)| a.abs_diff(*b);
        self.knots
            .iter()
            .zip(&other.knots)
            .map(moved)
            .sum::<usize>()
            <= 2
    }
}

/// The few best trials of each structure with one number of arcs; the index
/// tells where straight pieces stand.
#[derive(Default)]
struct Shortlists([ArrayVec<Trial, STARTS>; 1 << (MAX_ARCS + 1)]);

impl Shortlists {
    /// The list of the structure with these knots.
    fn of(&mut self, knots: &Knots, grid: usize) -> &mut ArrayVec<Trial, STARTS> {
        let mut index = 0;
        let mut reached = 0;
        for arc in knots.chunks_exact(2) {
            index = 2 * index + usize::from(arc[0] > reached);
            reached = arc[1];
        }
        &mut self.0[2 * index + usize::from(reached < grid)]
    }

    /// Whether a trial of that misfit could have a place.
    fn may_take(&mut self, knots: &Knots, misfit: f64, grid: usize) -> bool {
        let list = self.of(knots, grid);
        !list.is_full() || list.last().is_none_or(|last| misfit < last.misfit)
    }

    fn offer(&mut self, trial: Trial, grid: usize) {
        let list = self.of(&trial.knots, grid);
        if let Some(near) = list.iter().position(|other| other.is_near(&trial)) {
            if list[near].misfit <= trial.misfit {
                return;
            }
            list.remove(near);
        }
        let place = list.iter().position(|other| trial.misfit < other.misfit);
        let place = place.unwrap_or(list.len());
        if place < STARTS {
            list.truncate(STARTS - 1);
            list.insert(place, trial);
        }
    }
}

/// Weighted regression of the headings on ramps between knots of a grid.
///
/// A ramp from knot a to b is the difference of two hinges max(s − a, 0),
/// so all products of ramps come from one table of products of hinges.
struct Regression {
    grid: usize,
    step: f64,
    /// Σ w (hinge a)(hinge b), about the means.
    products: Vec<Vec<f64>>,
    /// Σ w (hinge a)(heading), about the means.
    responses: Vec<f64>,
    hinge_means: Vec<f64>,
    heading_mean: f64,
    variation: f64,
}

impl Regression {
    fn new(chords: &ChordHeadings, grid: usize) -> Self {
        let step = chords.length() / grid as f64;
        // A heading is the less certain the shorter its chord.
        let spans = || chords.stations.windows(2).map(|s| (s[0], s[1]));
        let weights: Vec<f64> = spans().map(|(from, to)| (to - from).powi(2)).collect();
        let total: f64 = weights.iter().sum();
        let mean =
            |values: &[f64]| weights.iter().zip(values).map(|(w, v)| w * v).sum::<f64>() / total;
        let centred = |values: Vec<f64>| {
            let mean = mean(&values);
            (
                values.into_iter().map(|v| v - mean).collect::<Vec<f64>>(),
                mean,
            )
        };
        let product = |a: &[f64], b: &[f64]| {
            weights
                .iter()
                .zip(a)
                .zip(b)
                .map(|((w, a), b)| w * a * b)
                .sum::<f64>()
        };
        // Mean of a hinge over a chord.
        let hinge = |knot: usize| {
            let above = |s: f64| (s - knot as f64 * step).max(0.0).powi(2);
            spans()
                .map(|(from, to)| (above(to) - above(from)) / (2.0 * (to - from)))
                .collect()
        };
        let (hinges, hinge_means): (Vec<_>, Vec<_>) =
            (0..=grid).map(|knot| centred(hinge(knot))).unzip();
        let (headings, heading_mean) = centred(chords.headings.clone());
        let products = hinges
            .iter()
            .map(|a| hinges.iter().map(|b| product(a, b)).collect());
        Self {
            grid,
            step,
            products: products.collect(),
            responses: hinges
                .iter()
                .map(|hinge| product(hinge, &headings))
                .collect(),
            hinge_means,
            heading_mean,
            variation: product(&headings, &headings),
        }
    }

    /// Offers all ways to add `arcs` more arcs after `knots`.
    fn try_knots(&self, arcs: usize, knots: &mut Knots, best: &mut Shortlists) {
        if arcs == 0 {
            self.try_one(knots, best);
            return;
        }
        let reached = knots.last().copied().unwrap_or(0);
        for from in reached..self.grid {
            for to in from + 1..=self.grid {
                knots.push(from);
                knots.push(to);
                self.try_knots(arcs - 1, knots, best);
                knots.pop();
                knots.pop();
            }
        }
    }

    /// Solves for the turns with these knots, and offers them.
    fn try_one(&self, knots: &Knots, best: &mut Shortlists) -> Option<()> {
        let ramps: ArrayVec<(usize, usize, f64), MAX_ARCS> = knots
            .chunks_exact(2)
            .map(|k| (k[0], k[1], (k[1] - k[0]) as f64 * self.step))
            .collect();
        let count = ramps.len();
        let mut matrix = [[0.0; MAX_ARCS + 1]; MAX_ARCS];
        for (i, &(a, b, width)) in ramps.iter().enumerate() {
            for (j, &(c, d, other)) in ramps.iter().enumerate() {
                let p = &self.products;
                matrix[i][j] = (p[a][c] - p[a][d] - p[b][c] + p[b][d]) / (width * other);
            }
            matrix[i][count] = (self.responses[a] - self.responses[b]) / width;
        }
        let right: ArrayVec<f64, MAX_ARCS> = (0..count).map(|i| matrix[i][count]).collect();
        let turns = solve_small(&mut matrix, count)?;
        let explained: f64 = turns.iter().zip(&right).map(|(t, r)| t * r).sum();
        let misfit = self.variation - explained;
        if !best.may_take(knots, misfit, self.grid) {
            return None;
        }
        let ramp_mean = |&(a, b, width): &(usize, usize, f64)| {
            (self.hinge_means[a] - self.hinge_means[b]) / width
        };
        let offset: f64 = turns
            .iter()
            .zip(&ramps)
            .map(|(t, ramp)| t * ramp_mean(ramp))
            .sum();
        let trial = Trial {
            knots: knots.clone(),
            heading: self.heading_mean - offset,
            turns,
            misfit,
        };
        best.offer(trial, self.grid);
        Some(())
    }
}

/// Solves a small symmetric positive definite system given with its right
/// side as last column; `None` when singular.
fn solve_small(
    matrix: &mut [[f64; MAX_ARCS + 1]; MAX_ARCS],
    count: usize,
) -> Option<ArrayVec<f64, MAX_ARCS>> {
    for i in 0..count {
        let pivot_row = matrix[i];
        if pivot_row[i] <= 1e-12 {
            return None;
        }
        for row in matrix[i + 1..count].iter_mut() {
            let factor = row[i] / pivot_row[i];
            for column in i..=count {
                row[column] -= factor * pivot_row[column];
            }
        }
    }
    let mut solution = [0.0; MAX_ARCS];
    for i in (0..count).rev() {
        let known: f64 = (i + 1..count).map(|j| matrix[i][j] * solution[j]).sum();
        solution[i] = (matrix[i][count] - known) / matrix[i][i];
    }
    Some(solution[..count].iter().copied().collect())
}
