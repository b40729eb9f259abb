//! Walls of canals, and marks that two films have in common.

use kurbo::{Point, Vec2};
use serde_json::Map;

use super::DUPLICATE_PX;
use super::handle::Handle;
use crate::case::{Case, Mark, WallSide, Walls};
use crate::units::FilmPoint;

/// The walls of a canal, to be changed.
pub(super) fn walls_mut(case: &mut Case, canal: usize) -> Option<&mut Walls> {
    case.canals.get_mut(canal)?.walls.as_mut()
}

/// Adds a point to the end of a wall.
pub(super) fn place_wall_point(
    case: &mut Case,
    canal: usize,
    side: WallSide,
    at: FilmPoint,
) -> Option<Handle> {
    let walls = case.canals.get_mut(canal)?.walls.get_or_insert_default();
    let is_same = |last: &FilmPoint| last.distance_px(at) < DUPLICATE_PX;
    if walls.side(side).last().is_some_and(is_same) {
        return None;
    }
    let index = walls.side(side).len();
    walls.insert(side, index, at);
    Some(Handle::WallPoint { canal, side, index })
}

/// The name that the next mark gets: the least number that is free, so that
/// marks placed in the same order on two films are named alike.
pub fn next_mark_name(case: &Case) -> String {
    let mut numbers = (1..).map(|number: usize| number.to_string());
    let is_free = |name: &String| case.marks.iter().all(|mark| mark.name != *name);
    numbers
        .find(is_free)
        .expect("there are more numbers than marks")
}

/// Adds a mark.
pub(super) fn place_mark(case: &mut Case, at: FilmPoint) -> Option<Handle> {
    let is_same = |mark: &Mark| mark.px.distance_px(at) < DUPLICATE_PX;
    if case.marks.iter().any(is_same) {
        return None;
    }
    let name = next_mark_name(case);
    case.marks.push(Mark {
        name,
        px: at,
        extra: Map::new(),
    });
    let index = case.marks.len() - 1;
    Some(Handle::Mark { index })
}

/// Renames a mark; names that are empty or taken are left alone.
pub fn rename_mark(case: &mut Case, index: usize, name: &str) {
    let name = name.trim();
    let taken = |(other, mark): (usize, &Mark)| other != index && mark.name == name;
    if name.is_empty() || case.marks.iter().enumerate().any(taken) {
        return;
    }
    if let Some(mark) = case.marks.get_mut(index) {
        name.clone_into(&mut mark.name);
    }
}

/// Ends the walls of a canal: each from the orifice, and exchanged where each
/// lies on the other's side of the canal. Nobody has to tell left from right
/// on a film that is turned or mirrored.
pub fn finish_walls(case: &mut Case, canal: usize) {
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    let [first, .., last] = content.trace_px[..] else {
        return;
    };
    let trace: Vec<Point> = content.trace_px.iter().map(point).collect();
    let Some(walls) = content.walls.as_mut() else {
        return;
    };
    for side in WallSide::BOTH {
        if let [start, .., end] = walls.side(side)[..]
            && start.distance_px(first) + end.distance_px(last)
                > start.distance_px(last) + end.distance_px(first)
        {
            walls.reverse(side);
        }
    }
    let [left, right] = WallSide::BOTH.map(|side| right_of_trace(&trace, walls.side(side)));
    if left > 0.0 && right < 0.0 {
        walls.exchange();
    }
}

fn point(p: &FilmPoint) -> Point {
    Point::new(p.x, p.y)
}

/// Mean distance of a wall's points to the right of a trace, px; 0 without
/// points.
fn right_of_trace(trace: &[Point], wall: &[FilmPoint]) -> f64 {
    let offset = |p: Point| {
        let nearest = trace
            .windows(2)
            .filter_map(|pair| {
                let along: Vec2 = pair[1] - pair[0];
                let squared = along.hypot2();
                if squared == 0.0 {
                    return None;
                }
                let at = ((p - pair[0]).dot(along) / squared).clamp(0.0, 1.0);
                let away = p - (pair[0] + along * at);
                Some((away.hypot(), along.cross(away)))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        nearest.map_or(0.0, |(distance, cross)| distance * cross.signum())
    };
    let sum: f64 = wall.iter().map(|p| offset(point(p))).sum();
    sum / wall.len().max(1) as f64
}
