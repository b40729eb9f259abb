//! Hand-ins whose points are those of another: copied, or traced from one
//! suggestion.

use std::collections::HashMap;

use super::grade::{CanalGrade, TraceGrade};
use super::reference::Reference;
use super::rubric::Rubric;
use crate::units::FilmPoint;

/// Points in one cell of this side are one, px: clicks are kept to the last
/// digit.
const CELL_PX: f64 = 0.01;
/// Fewer points than this may fall together by chance.
const LEAST_POINTS: usize = 4;
/// Share of the points that must be the same.
const LEAST_SHARE: f64 = 0.8;

/// A point as the cell it lies in.
type Cell = [i64; 2];

fn cells(trace: &[FilmPoint]) -> Vec<Cell> {
    let cell = |at: f64| (at / CELL_PX).round() as i64;
    let mut cells: Vec<Cell> = trace.iter().map(|p| [cell(p.x), cell(p.y)]).collect();
    cells.sort_unstable();
    cells.dedup();
    cells
}

/// Traces of one canal with the places they go through.
#[derive(Default)]
struct Traces {
    cells: Vec<Vec<Cell>>,
    through: HashMap<Cell, Vec<usize>>,
}

impl Traces {
    fn push(&mut self, trace: &[FilmPoint]) -> usize {
        let (index, cells) = (self.cells.len(), cells(trace));
        for &cell in &cells {
            self.through.entry(cell).or_default().push(index);
        }
        self.cells.push(cells);
        index
    }

    /// Traces with at least [`LEAST_SHARE`] of their points in common with
    /// this one.
    fn like(&self, index: usize) -> Vec<usize> {
        let own = &self.cells[index];
        let mut shared: HashMap<usize, usize> = HashMap::new();
        for other in own
            .iter()
            .filter_map(|cell| self.through.get(cell))
            .flatten()
        {
            *shared.entry(*other).or_default() += 1;
        }
        let is_like = |&(other, count): &(usize, usize)| {
            let most = own.len().max(self.cells[other].len());
            other != index && count >= LEAST_POINTS && count as f64 >= LEAST_SHARE * most as f64
        };
        let mut like: Vec<usize> = shared
            .into_iter()
            .filter(is_like)
            .map(|(other, _)| other)
            .collect();
        like.sort_unstable();
        like
    }
}

/// Says of every canal whose points it shares, with other students or with a
/// reference case, and takes its points away where the rubric forbids copies.
pub fn mark(reference: &Reference, rubric: &Rubric, traces: &mut [TraceGrade]) {
    for wanted in &reference.canals {
        let mut all = Traces::default();
        for trace in &wanted.traces_px {
            all.push(trace);
        }
        let of_experts = wanted.traces_px.len();
        let mut places = Vec::new();
        for (index, trace) in traces.iter().enumerate() {
            if let Some(at) = trace.canals.iter().position(|c| c.name == wanted.name) {
                all.push(&trace.canals[at].trace_px);
                places.push((index, at));
            }
        }
        for (number, &(index, at)) in places.iter().enumerate() {
            let like = all.like(of_experts + number);
            let as_reference = like.iter().any(|&other| other < of_experts);
            let students = like
                .iter()
                .filter_map(|other| other.checked_sub(of_experts));
            let mut same: Vec<String> = students
                .map(|other| traces[places[other].0].student.clone())
                .filter(|student| *student != traces[index].student)
                .collect();
            same.sort();
            same.dedup();
            if as_reference || !same.is_empty() {
                put(&mut traces[index].canals[at], same, as_reference, rubric);
            }
        }
    }
    for trace in traces {
        trace.points = trace.canals.iter().map(|c| c.points).sum();
        if trace.canals.iter().any(|c| c.passed == Some(false)) {
            trace.passed = trace.passed.map(|_| false);
        }
    }
}

fn put(canal: &mut CanalGrade, same: Vec<String>, as_reference: bool, rubric: &Rubric) {
    canal.same_points_as = same;
    canal.same_points_as_reference = as_reference;
    if rubric.forbid_copied {
        canal.points = 0.0;
        canal.passed = canal.passed.map(|_| false);
    }
}

/// What a canal's likeness to others says, in words.
pub fn words(canal: &CanalGrade) -> Option<String> {
    let of_reference = canal
        .same_points_as_reference
        .then(|| "a reference case".to_owned());
    let students = match canal.same_points_as.as_slice() {
        [] => None,
        [one] => Some(format!("student {one}")),
        few @ ([_, _] | [_, _, _]) => Some(format!("students {}", few.join(", "))),
        many => Some(format!("student {} and {} others", many[0], many.len() - 1)),
    };
    let of: Vec<String> = of_reference.into_iter().chain(students).collect();
    (!of.is_empty()).then(|| format!("the same points as in the trace of {}", of.join(" and ")))
}
