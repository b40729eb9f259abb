//! The bends of a path in space: turn, radius, plane and place of each.

use std::ops::Range;

use nalgebra::Vector3;

use super::geometry::angle_between;
use super::path::SpacePath;
use crate::geometry::Piece;

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

/// First piece of each bend and the one after its last, from the orifice.
/// Neighbouring arcs without a straight piece between them are one bend for as
/// long as each bends to the same side as the bend so far (own rule).
fn bends_of(path: &SpacePath) -> Vec<Range<usize>> {
    let mut bends: Vec<Range<usize>> = Vec::new();
    for (i, piece) in path.pieces().iter().enumerate() {
        if piece.turn_rad[0].hypot(piece.turn_rad[1]) < LEAST_TURN_RAD {
            continue;
        }
        let own = path.direction_at_piece(i + 1) - path.direction_at_piece(i);
        if let Some(bend) = bends.last_mut()
            && bend.end == i
        {
            let so_far = path.direction_at_piece(i) - path.direction_at_piece(bend.start);
            if so_far.dot(&own) > 0.0 {
                bend.end = i + 1;
                continue;
            }
        }
        bends.push(i..i + 1);
    }
    bends
}

/// The bends of a path, from the orifice.
pub fn curves_of(path: &SpacePath) -> Vec<SpaceCurve> {
    let length = path.length_mm();
    let curve = |bend: Range<usize>| {
        let [before, after] = [bend.start, bend.end].map(|i| path.direction_at_piece(i));
        let turn_rad = angle_between(&before, &after);
        let change = after - before;
        let [from, to] = [bend.start, bend.end].map(|i| path.length_to_piece_mm(i));
        SpaceCurve {
            turn_rad,
            radius_mm: (to - from) / turn_rad,
            plane_rad: change.y.atan2(change.x),
            change,
            start_from_apex_mm: length - from,
            end_from_apex_mm: length - to,
        }
    };
    bends_of(path).into_iter().map(curve).collect()
}

/// The pieces of a path laid flat, as long and as bent as in space, one bend to
/// one side and the next one to the other: all that depends on length and
/// curvature alone is the same.
pub fn laid_flat(path: &SpacePath) -> Vec<Piece> {
    let bends = bends_of(path);
    let flat = |(i, piece): (usize, &super::path::Piece)| {
        let length = piece.length_mm;
        match bends.iter().position(|bend| bend.contains(&i)) {
            Some(bend) => {
                let turn = piece.turn_rad[0].hypot(piece.turn_rad[1]);
                let turn_rad = if bend % 2 == 0 { turn } else { -turn };
                Piece::Arc { length, turn_rad }
            }
            None => Piece::Straight { length },
        }
    };
    path.pieces().iter().enumerate().map(flat).collect()
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
