//! The cold fit: start values for every structure, then the competition.
//!
//! For each number of arcs the structure with a straight piece
//! wherever one may stand is fitted from the best of them: the others are those
//! of its fits in which a straight piece shrinks to nothing. Where the points
//! are too few for that structure, others are fitted by themselves. What wins is
//! then fitted without each short straight piece.

use arrayvec::ArrayVec;
use kurbo::Point;

use super::check::check;
use super::forms::{self, Family};
use super::gauss_newton::{Limits, Problem, Solution};
use super::noise::{Judged, NoiseGrid};
use super::smooth::Trace;
use super::start::ChordHeadings;
use super::structure::{MAX_STRUCTURE, PieceKind, Row, Structure};
use super::{Candidate, FitError, FitOptions, FormFit, PathFit, arc_cost, cost};
use crate::geometry::straight_arc_path::MAX_ARCS;

/// Arcs beyond this turn are not considered, rad: no canal has them, and
/// pieces are told apart by their end normals.
const LARGEST_TURN_RAD: f64 = 3.0;
const SEARCH_LIMITS: Limits = Limits {
    evaluations: 40,
    last_fall: 1e-3,
};
/// From near the least χ² to what rounding leaves of it: without noise the
/// path is exact even where it is hard to tell.
const POLISH_LIMITS: Limits = Limits {
    evaluations: 100,
    last_fall: 1e-12,
};

/// Fits every structure that can still win and returns the winner.
pub(super) fn best_fit(
    points: &[Point],
    weights: &[f64],
    options: &FitOptions,
) -> Result<PathFit, FitError> {
    let chords = points.windows(2).map(|pair| pair[0].distance(pair[1]));
    let spacing = chords.sum::<f64>() / (points.len() - 1) as f64;
    let problem = Problem {
        points,
        weights,
        point_sd: options.point_sd,
        spacing,
    };
    let headings = ChordHeadings::new(points);
    let residual_count = points.len() + 2;
    let grid = NoiseGrid::new();
    let local = local_scatter_ratio(points, options.point_sd);
    let mut entries: Vec<Entry> = Vec::new();
    let mut best = f64::INFINITY;
    for arcs in 0..=options.max_arcs.min(MAX_ARCS) {
        // Points that scatter less than stated may tell bends that others hide.
        if local > QUIET && arc_cost(arcs, residual_count) >= best + MAY_STILL_WIN {
            break;
        }
        for (structure, start) in headings.starts(points[0], arcs, residual_count) {
            let solution = problem.solve(&structure, &start, SEARCH_LIMITS);
            if solution.turns_too_far(&structure) {
                continue;
            }
            let entry = Entry::new(&structure, solution, residual_count, &grid);
            if !entries.iter().any(|other| other.is_same(&entry)) {
                best = best.min(entry.criterion());
                entries.push(entry);
            }
        }
    }
    if options.max_arcs > 0 && entries.iter().all(|e| e.structure.arc_count() == 0) {
        entries.extend(bent_all_along(&problem, &entries, &grid));
    }
    simplify(&problem, &mut entries, best + MAY_STILL_WIN, &grid);
    best = entries.iter().map(Entry::criterion).fold(best, f64::min);
    for entry in &mut entries {
        if entry.criterion() < best + POLISH_WITHIN {
            let (structure, near) = (&entry.structure, &entry.solution.parameters);
            let solution = problem.solve(structure, near, POLISH_LIMITS);
            *entry = Entry::new(structure, solution, residual_count, &grid);
        }
    }
    entries.sort_by(|a, b| a.criterion().total_cmp(&b.criterion()));
    let candidates: Vec<Candidate> = entries
        .iter()
        .map(|entry| entry.candidate(&problem))
        .collect();
    let winner = entries
        .into_iter()
        .next()
        .filter(|entry| entry.criterion().is_finite());
    let Entry {
        structure,
        solution,
        ..
    } = winner.ok_or(FitError::NoConvergence)?;
    let linearised = problem.linearised(&structure, &solution.parameters);
    let turn_sd_if_straight_rad = turn_sd_if_straight(&problem, &structure, &solution.parameters);
    let straight_arc = structure.path(&solution.parameters)?;
    let trace = Trace {
        points,
        weights,
        point_sd: options.point_sd,
    };
    let least_sd = options.point_sd * local.clamp(1e-4, 1.0);
    let family = if options.max_arcs > 0 {
        forms::family(
            &trace,
            &candidates,
            &straight_arc,
            least_sd,
            options.form_power,
            &grid,
        )
    } else {
        Family::default()
    };
    let dof = (residual_count).saturating_sub(structure.parameter_count()) as f64;
    let misfits: Vec<_> = family.forms.iter().map(|form| form.misfit).collect();
    let check = check(
        points,
        &misfits,
        (&straight_arc, (solution.chi_square, dof)),
        family.scatter_ratio,
        local,
    );
    Ok(PathFit {
        check,
        path: family.best_path(straight_arc.clone()),
        straight_arc,
        covariance: linearised.covariance(structure.parameter_count()),
        form: problem.form(structure, solution.parameters),
        chi_square: solution.chi_square,
        turn_sd_if_straight_rad,
        candidates,
        local_scatter_ratio: local,
        family,
    })
}

/// Differences of the criterion up to which a form is worth a weight.
const MAY_STILL_WIN: f64 = 5.0;
/// Points that scatter less than this share of what is stated are not those of
/// a hand.
const QUIET: f64 = 0.3;

/// Standard deviation of the points about the cubic through their neighbours,
/// two on either side, across it, over `point_sd`: scatter without any model of
/// the path. Infinite for fewer than seven points.
pub fn local_scatter_ratio(points: &[Point], point_sd: f64) -> f64 {
    if points.len() < 7 {
        return f64::INFINITY;
    }
    let squares = points.windows(5).map(|p| {
        // Lagrange's weights at the chords' own spacing.
        let mut at = [0.0; 5];
        for k in 1..5 {
            at[k] = at[k - 1] + p[k].distance(p[k - 1]);
        }
        let others = [0, 1, 3, 4];
        let weight = |k: usize| {
            let factors = others.iter().filter(|&&j| j != k);
            factors
                .map(|&j| (at[2] - at[j]) / (at[k] - at[j]))
                .product::<f64>()
        };
        let (mut off, mut variance) = (p[2].to_vec2(), 1.0);
        for k in others {
            let w = weight(k);
            off -= p[k].to_vec2() * w;
            variance += w * w;
        }
        let along = p[3] - p[1];
        let across = off.cross(along) / along.hypot();
        across * across / variance
    });
    let mean = squares.sum::<f64>() / (points.len() - 4) as f64;
    mean.sqrt() / point_sd
}

impl Solution {
    fn turns_too_far(&self, structure: &Structure) -> bool {
        structure.length_indices().any(|(kind, index)| {
            kind == PieceKind::Arc && self.parameters[index + 1].abs() > LARGEST_TURN_RAD
        })
    }
}

/// Adds to the entries within reach what they are without a short straight
/// piece: it may be there for the noise alone.
fn simplify(problem: &Problem, entries: &mut Vec<Entry>, reach: f64, grid: &NoiseGrid) {
    let mut next = 0;
    while let Some(entry) = entries.get(next) {
        next += 1;
        if entry.criterion() >= reach {
            continue;
        }
        let (structure, parameters) = (&entry.structure, &entry.solution.parameters);
        let is_short = |(kind, index): (PieceKind, usize)| {
            kind == PieceKind::Straight && parameters[index] < problem.spacing
        };
        let short = structure.length_indices().map(is_short).enumerate();
        let without = |(piece, is_short): (usize, bool)| {
            let (structure, start) = is_short.then(|| structure.without(piece, parameters))??;
            let solution = problem.solve(&structure, &start, SEARCH_LIMITS);
            Some(Entry::new(
                &structure,
                solution,
                problem.points.len() + 2,
                grid,
            ))
        };
        let simpler: ArrayVec<Entry, MAX_STRUCTURE> = short.filter_map(without).collect();
        for entry in simpler {
            if !entries.iter().any(|other| other.is_same(&entry)) {
                entries.push(entry);
            }
        }
    }
}

/// One arc in place of the only straight piece: what a trace that may be
/// straight has to be compared with.
fn bent_all_along(problem: &Problem, straight: &[Entry], grid: &NoiseGrid) -> Option<Entry> {
    let structure = Structure::new(&[PieceKind::Arc])?;
    let start = straight.first()?.solution.parameters;
    let solution = problem.solve(&structure, &start, SEARCH_LIMITS);
    let residual_count = problem.points.len() + 2;
    Some(Entry::new(&structure, solution, residual_count, grid))
}

/// How well one arc along the whole of a straight path would be known, rad.
fn turn_sd_if_straight(problem: &Problem, structure: &Structure, path: &Row) -> Option<f64> {
    let arc = Structure::new(&[PieceKind::Arc]).filter(|_| structure.arc_count() == 0)?;
    let covariance = problem
        .linearised(&arc, path)
        .covariance(arc.parameter_count())?;
    Some(covariance[4][4].sqrt())
}

/// Differences of the criterion that full convergence could turn round.
const POLISH_WITHIN: f64 = 1.0;

/// One structure in the competition.
struct Entry {
    structure: Structure,
    solution: Solution,
    judged: Judged,
}

impl Entry {
    /// `fitted` with what is left of it when straight pieces without length
    /// are left out.
    fn new(
        fitted: &Structure,
        mut solution: Solution,
        residual_count: usize,
        grid: &NoiseGrid,
    ) -> Self {
        let (structure, parameters) = fitted.without_empty_straights(&solution.parameters);
        solution.parameters = parameters;
        let cost = cost(&structure, residual_count);
        let dof = residual_count.saturating_sub(structure.parameter_count()) as f64;
        Self {
            judged: grid.judge(solution.chi_square, dof, cost),
            structure,
            solution,
        }
    }

    /// The same fit, from another start.
    fn is_same(&self, other: &Self) -> bool {
        let gap = self.solution.chi_square - other.solution.chi_square;
        self.structure == other.structure && gap.abs() <= 10.0 * SEARCH_LIMITS.last_fall
    }

    fn criterion(&self) -> f64 {
        -2.0 * self.judged.log_evidence
    }

    fn candidate(&self, problem: &Problem) -> Candidate {
        let parameters = self.solution.parameters;
        let full = self.structure.with_all_straights(&parameters);
        let (structure, parameters) = if full.0.parameter_count() < problem.points.len() + 2 {
            full
        } else {
            (self.structure.clone(), parameters)
        };
        Candidate {
            structure: self.structure.clone(),
            parameter_count: self.structure.parameter_count(),
            chi_square: self.solution.chi_square,
            criterion: self.criterion(),
            judged: self.judged,
            own: problem.form(self.structure.clone(), self.solution.parameters),
            form: problem.form(structure, parameters),
        }
    }
}

impl Problem<'_> {
    fn form(&self, structure: Structure, parameters: Row) -> FormFit {
        FormFit {
            structure,
            parameters,
            point_count: self.points.len(),
            weights: self.weights.into(),
            point_sd: self.point_sd,
            spacing: self.spacing,
        }
    }
}
