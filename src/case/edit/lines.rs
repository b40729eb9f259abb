//! Points moved, taken away and put between others.

use super::handle::{Handle, coincident, position_mut};
use super::walls::walls_mut;
use super::{DUPLICATE_PX, rounded};
use crate::case::segments::nearest_segment;
use crate::case::{Case, ScaleObjectKind};
use crate::units::FilmPoint;

/// Moves a handle, and with it all that coincide with it.
pub fn move_to(case: &mut Case, handle: &Handle, to: FilmPoint) {
    let to = rounded(to);
    if let Handle::CurvatureLandmark { canal, name } = handle {
        if let Some(canal) = case.canals.get_mut(*canal) {
            canal.landmarks.insert(name.clone(), to);
        }
        return;
    }
    for one in coincident(case, handle) {
        if let Handle::TracePoint { canal, index } = &one {
            case.canals[*canal].forget_readings_beside(*index);
        }
        if let Some(at) = position_mut(case, &one) {
            *at = to;
        }
        mark_as_own(case, &one);
    }
}

/// A point moved by hand is no longer the assistant's.
fn mark_as_own(case: &mut Case, handle: &Handle) {
    match handle {
        Handle::ScalePoint { object, .. } => case.scale.objects[*object].assisted = false,
        Handle::TracePoint { canal, .. } => case.canals[*canal].assisted = false,
        Handle::Landmark { canal, landmark } => {
            landmark.mark_assisted(&mut case.canals[*canal], false);
        }
        // Where a wall was followed its points were better known than a click.
        Handle::WallPoint { canal, side, index } => {
            if let Some(walls) = walls_mut(case, *canal) {
                walls.forget_reading(*side, *index);
            }
        }
        _ => {}
    }
}

/// Takes away a handle and all that coincide with it; objects without points
/// go too.
pub fn delete(case: &mut Case, handle: &Handle) {
    // Later indices first, so that earlier ones stay true.
    let mut going = coincident(case, handle);
    going.reverse();
    for one in going {
        match one {
            Handle::ScalePoint { object, index } => {
                case.scale.objects[object].points_px.remove(index);
            }
            Handle::TracePoint { canal, index } => {
                case.canals[canal].forget_readings_beside(index);
                case.canals[canal].trace_px.remove(index);
                case.canals[canal].assisted = false;
            }
            Handle::Landmark { canal, landmark } => landmark.clear(&mut case.canals[canal]),
            Handle::CurvatureLandmark { canal, name } => {
                case.canals[canal].landmarks.remove(&name);
            }
            Handle::WallPoint { canal, side, index } => {
                if let Some(walls) = walls_mut(case, canal) {
                    walls.remove(side, index);
                    if walls.left_px.is_empty() && walls.right_px.is_empty() {
                        case.canals[canal].walls = None;
                    }
                }
            }
            Handle::Mark { index } => {
                case.marks.remove(index);
            }
        }
    }
    case.scale
        .objects
        .retain(|object| !object.points_px.is_empty());
}

/// Inserts a point on the line that `handle` belongs to, half way to its next
/// point (last point: from the one before).
pub fn insert_next(case: &mut Case, handle: &Handle) -> Option<Handle> {
    let between = |points: &[FilmPoint], index: usize| {
        let first = index.min(points.len().checked_sub(2)?);
        let (a, b) = (points[first], points[first + 1]);
        let middle = rounded(FilmPoint::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0));
        Some((first + 1, middle))
    };
    let line = |points: &mut Vec<FilmPoint>, index: usize| {
        let (index, middle) = between(points, index)?;
        points.insert(index, middle);
        Some(index)
    };
    // A landmark stands for the line point it coincides with.
    let on_line = coincident(case, handle).into_iter().find(|one| {
        matches!(
            one,
            Handle::ScalePoint { .. } | Handle::TracePoint { .. } | Handle::WallPoint { .. }
        )
    })?;
    match on_line {
        Handle::ScalePoint { object, index } => {
            let content = case.scale.objects.get_mut(object)?;
            if content.kind != ScaleObjectKind::File {
                return None;
            }
            let index = line(&mut content.points_px, index)?;
            Some(Handle::ScalePoint { object, index })
        }
        Handle::TracePoint { canal, index } => {
            let content = case.canals.get_mut(canal)?;
            content.forget_readings_after(index.min(content.trace_px.len().checked_sub(2)?));
            let index = line(&mut content.trace_px, index)?;
            Some(Handle::TracePoint { canal, index })
        }
        Handle::WallPoint { canal, side, index } => {
            let walls = walls_mut(case, canal)?;
            let (index, middle) = between(walls.side(side), index)?;
            walls.insert(side, index, middle);
            Some(Handle::WallPoint { canal, side, index })
        }
        _ => None,
    }
}

/// Inserts `at` into the line that `on` names, where it is nearest.
pub fn insert_near(case: &mut Case, on: &Handle, at: FilmPoint) -> Option<Handle> {
    let at = rounded(at);
    match on {
        Handle::ScalePoint { object, .. } => {
            let object = *object;
            let index = insert_into(&mut case.scale.objects.get_mut(object)?.points_px, at)?;
            Some(Handle::ScalePoint { object, index })
        }
        Handle::TracePoint { canal, .. } => {
            let canal = *canal;
            let content = case.canals.get_mut(canal)?;
            let index = insert_into(&mut content.trace_px, at)?;
            content.forget_readings_beside(index);
            Some(Handle::TracePoint { canal, index })
        }
        Handle::WallPoint { canal, side, .. } => {
            let (canal, side) = (*canal, *side);
            let walls = walls_mut(case, canal)?;
            let index = place_within(walls.side(side), at)?;
            walls.insert(side, index, at);
            Some(Handle::WallPoint { canal, side, index })
        }
        _ => None,
    }
}

/// Inserts a point between the two neighbours whose segment is nearest.
pub(super) fn insert_into(points: &mut Vec<FilmPoint>, at: FilmPoint) -> Option<usize> {
    let index = place_within(points, at)?;
    points.insert(index, at);
    Some(index)
}

/// Where a point belongs between the two neighbours whose segment is nearest;
/// `None` where it lies on another.
fn place_within(points: &[FilmPoint], at: FilmPoint) -> Option<usize> {
    if points.iter().any(|p| p.distance_px(at) < DUPLICATE_PX) {
        return None;
    }
    Some(nearest_segment(points, at)? + 1)
}
