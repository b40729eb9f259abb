//! Straight pieces and arcs in the words the shapes are known by.

use lengthfilm::geometry::Piece;

/// `length` in the unit of the path.
pub fn straight(length: f64) -> Piece {
    Piece::Straight { length }
}

/// Of a radius in the unit of the path; a positive turn is clockwise on film.
pub fn arc(radius: f64, turn_deg: f64) -> Piece {
    Piece::Arc {
        length: radius * turn_deg.to_radians().abs(),
        turn_rad: turn_deg.to_radians(),
    }
}
