//! A canal's course in space for those who ask how it bends and not where.

use kurbo::Point;

use super::findings::TwoViewFindings;
use crate::geometry::{MAX_PIECES, Piece, StraightArcPath};

/// A canal's course laid flat: pieces as long and as bent as in space, orifice
/// → apex, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct SpaceCourse {
    pub findings: TwoViewFindings,
    pub path: StraightArcPath,
    /// Courses as likely as each other that it may have.
    pub possible: Vec<StraightArcPath>,
}

/// Most of those that are kept.
pub const MOST_POSSIBLE: usize = 2000;

/// Numbers that stand for the pieces of a course among the outputs of a draw:
/// length and turn of each.
pub const FLAT_OUTPUTS: usize = 2 * MAX_PIECES;

/// Writes the pieces of a course; the rest of `out` says that there are no more.
pub fn write_flat(pieces: &[Piece], out: &mut [f64]) {
    out.fill(f64::NAN);
    for (piece, out) in pieces.iter().zip(out.chunks_exact_mut(2)) {
        out[0] = piece.length();
        out[1] = piece.turn_rad();
    }
}

/// The course of these pieces; `None` of none.
pub fn course_of(pieces: &[Piece]) -> Option<StraightArcPath> {
    StraightArcPath::new(Point::ORIGIN, 0.0, pieces).ok()
}

/// The course that [`write_flat`] wrote.
pub fn read_flat(numbers: &[f64]) -> Option<StraightArcPath> {
    let written = numbers.chunks_exact(2).take_while(|n| n[0].is_finite());
    let pieces = written.map(|n| match (n[0], n[1]) {
        (length, 0.0) => Piece::Straight { length },
        (length, turn_rad) => Piece::Arc { length, turn_rad },
    });
    course_of(&pieces.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::super::curves::laid_flat;
    use super::super::path::{self, Pose, SpacePath};
    use super::*;
    use nalgebra::Vector3;

    /// A course keeps lengths and curvatures; arcs of one bend go to one side,
    /// the next bend to the other.
    #[test]
    fn a_course_is_as_long_and_as_bent_as_in_space() {
        let piece = |length_mm: f64, turn_rad: [f64; 2]| path::Piece {
            length_mm,
            turn_rad,
        };
        let pieces = vec![
            piece(6.0, [0.0; 2]),
            piece(3.0, [0.3, 0.4]),
            piece(2.0, [0.1, 0.05]),
            piece(1.0, [0.0; 2]),
            piece(4.0, [-0.2, 0.1]),
        ];
        let start = Pose::new(Vector3::zeros(), [0.0; 2]);
        let flat = laid_flat(&SpacePath::new(start, pieces));
        let mut numbers = vec![0.0; FLAT_OUTPUTS];
        write_flat(&flat, &mut numbers);
        let course = read_flat(&numbers).unwrap();
        assert_eq!(course, course_of(&flat).unwrap());
        assert!((course.length() - 16.0).abs() < 1e-12);
        for (at, curvature) in [(3.0, 0.0), (7.0, 0.5 / 3.0), (11.5, 0.0)] {
            assert!((course.curvature_at_length(at) - curvature).abs() < 1e-12);
        }
        assert!(course.curvature_at_length(10.0) > 0.05);
        assert!((course.curvature_at_length(14.0) + 0.05f64.sqrt() / 4.0).abs() < 1e-12);
        assert_eq!(read_flat(&[f64::NAN; FLAT_OUTPUTS]), None);
    }
}
