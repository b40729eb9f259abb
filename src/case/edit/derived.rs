//! The canal's path where none was traced.

use super::{DUPLICATE_PX, file_object_index};
use crate::case::Case;
use crate::units::FilmPoint;

/// The canal's path where none was traced: the file's line, prolonged to the
/// apex; a tip beyond the apex is left out. `None` without file or apex.
fn derived_trace(case: &Case, canal: usize) -> Option<Vec<FilmPoint>> {
    let apex = case.canals.get(canal)?.apex_px?;
    let mut points = case.scale.objects[file_object_index(case, canal)?]
        .points_px
        .clone();
    if points.len() < 2 {
        return None;
    }
    // Drop every point that lies beyond the apex along the line.
    while let [.., before, last] = points.as_slice() {
        let along =
            (apex.x - last.x) * (last.x - before.x) + (apex.y - last.y) * (last.y - before.y);
        if along > 0.0 || points.len() == 1 {
            break;
        }
        points.pop();
    }
    if points.last()?.distance_px(apex) < DUPLICATE_PX {
        points.pop();
    }
    points.push(apex);
    (points.len() >= 2).then_some(points)
}

/// The canal's trace is empty or follows from its file and apex.
pub(super) fn trace_is_derived(case: &Case, canal: usize) -> bool {
    let Some(trace) = case.canals.get(canal).map(|canal| &canal.trace_px) else {
        return false;
    };
    trace.is_empty() || derived_trace(case, canal).is_some_and(|derived| &derived == trace)
}

/// Applies a change; traces that followed from file and apex before it still
/// do afterwards.
pub fn keeping_derived_traces(case: &mut Case, change: impl FnOnce(&mut Case)) {
    let derived: Vec<(String, Vec<FilmPoint>)> = (0..case.canals.len())
        .filter(|&canal| trace_is_derived(case, canal))
        .map(|canal| {
            (
                case.canals[canal].name.clone(),
                case.canals[canal].trace_px.clone(),
            )
        })
        .collect();
    let count = case.canals.len();
    change(case);
    for canal in 0..case.canals.len() {
        let content = &case.canals[canal];
        let followed = derived
            .get(canal)
            .filter(|_| count == case.canals.len())
            .or_else(|| derived.iter().find(|(name, _)| name == &content.name));
        let Some((_, old_trace)) = followed else {
            continue;
        };
        // A change that put other points there made a trace of the user's own;
        // one that moved single points, or none, did not. An emptied one is
        // derived anew.
        let is_other = content.trace_px.len() != old_trace.len()
            || content.trace_px.iter().zip(old_trace).all(|(a, b)| a != b);
        if is_other && !content.trace_px.is_empty() {
            continue;
        }
        case.canals[canal].trace_px = derived_trace(case, canal).unwrap_or_default();
    }
}
