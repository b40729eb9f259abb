//! The bends of a path in space: turn, radius, plane and place of each.

use nalgebra::Vector3;

use super::geometry::angle_between;
use super::path::SpacePath;

/// One bend in space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpaceCurve {
    /// Angle between the directions before and after, rad, not negative.
    pub turn_rad: f64,
    pub radius_mm: f64,
    /// Where it bends to, about the shared axis: 0 towards +x on film A, a
    /// quarter turn towards the source.
    pub plane_rad: f64,
    /// Direction it bends to: direction after less direction before.
    pub change: Vector3<f64>,
    pub start_from_apex_mm: f64,
    pub end_from_apex_mm: f64,
}

/// Turns smaller than this are straight, rad: below any that can be measured.
const LEAST_TURN_RAD: f64 = 1e-6;

/// The bends of a path, from the orifice. Neighbouring arcs without a straight
/// piece between them are one bend for as long as each bends to the same side
/// as the bend so far (own rule).
pub fn curves_of(path: &SpacePath) -> Vec<SpaceCurve> {
    let mut groups: Vec<(usize, usize)> = Vec::new();
    for (i, piece) in path.pieces().iter().enumerate() {
        if piece.turn_rad[0].hypot(piece.turn_rad[1]) < LEAST_TURN_RAD {
            continue;
        }
        let own = path.direction_at_piece(i + 1) - path.direction_at_piece(i);
        if let Some((first, end)) = groups.last_mut()
            && *end == i
        {
            let so_far = path.direction_at_piece(i) - path.direction_at_piece(*first);
            if so_far.dot(&own) > 0.0 {
                *end = i + 1;
                continue;
            }
        }
        groups.push((i, i + 1));
    }
    let length = path.length_mm();
    groups
        .into_iter()
        .map(|(first, end)| {
            let (before, after) = (path.direction_at_piece(first), path.direction_at_piece(end));
            let turn_rad = angle_between(&before, &after);
            let change = after - before;
            let (from, to) = (path.length_to_piece_mm(first), path.length_to_piece_mm(end));
            SpaceCurve {
                turn_rad,
                radius_mm: (to - from) / turn_rad,
                plane_rad: change.y.atan2(change.x),
                change,
                start_from_apex_mm: length - from,
                end_from_apex_mm: length - to,
            }
        })
        .collect()
}

/// Angle between the directions at the path's ends, rad.
pub fn net_turn_rad(path: &SpacePath) -> f64 {
    angle_between(&path.start().direction, &path.end().direction)
}

/// Sum of all turning along the path, rad, whatever its direction.
pub fn total_turn_rad(path: &SpacePath) -> f64 {
    let sizes = path
        .pieces()
        .iter()
        .map(|p| p.turn_rad[0].hypot(p.turn_rad[1]));
    sizes.sum()
}
