//! Every curve of a canal by itself.
//!
//! docs/methods.md 5.9: a curve ends where the turning changes sign (our
//! choice, no source was found). Adjoining arcs that turn the same way, with
//! or without a straight piece between, are one curve. Secondary curvature as
//! "opposite in direction to the main one": Cunningham CJ, Senia ES. J Endod
//! 1992;18:294–300 (SEEN).

use arrayvec::ArrayVec;

use super::measured::Missing;
use super::schneider;
use crate::geometry::{MAX_ARCS, Piece, StraightArcPath};

/// Turns below this are rounding, rad.
const SMALLEST_TURN_RAD: f64 = 1e-9;

/// One curve of a canal; lengths in the unit of the path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// Signed turn, rad, positive clockwise on the film.
    pub turn_rad: f64,
    /// Length of its arcs over their turn: the radius of its only arc, or the
    /// mean over several.
    pub radius: f64,
    /// Length of its arcs.
    pub arc_length: f64,
    /// Length from its start to the apical end.
    pub start_from_apex: f64,
    /// Length from its end to the apical end.
    pub end_from_apex: f64,
    /// Angle between the tangent at its start and its chord: Schneider's angle
    /// of this curve alone, rad.
    pub schneider_rad: f64,
    /// The same, but to the apical end of the path, rad.
    pub schneider_to_apex_rad: f64,
    /// Indices of its first and last arc among the pieces of the path.
    pub pieces: [usize; 2],
}

/// The curves of `path`, coronal first.
pub fn curves(path: &StraightArcPath) -> ArrayVec<Curve, MAX_ARCS> {
    let mut curves = ArrayVec::<Curve, MAX_ARCS>::new();
    let total = path.length();
    let stations = path.lengths_at_poses();
    if !path.bends().is_empty() {
        return path.bends().iter().map(|&bend| whole(path, bend)).collect();
    }
    for (index, piece) in path.pieces().iter().enumerate() {
        let Piece::Arc { length, turn_rad } = *piece else {
            continue;
        };
        if turn_rad.abs() < SMALLEST_TURN_RAD {
            continue;
        }
        let end_from_apex = total - stations[index + 1];
        match curves.last_mut() {
            Some(curve) if curve.turn_rad * turn_rad > 0.0 => {
                curve.turn_rad += turn_rad;
                curve.arc_length += length;
                curve.end_from_apex = end_from_apex;
                curve.pieces[1] = index;
            }
            _ => curves.push(Curve {
                turn_rad,
                radius: 0.0,
                arc_length: length,
                start_from_apex: total - stations[index],
                end_from_apex,
                schneider_rad: 0.0,
                schneider_to_apex_rad: 0.0,
                pieces: [index; 2],
            }),
        }
    }
    for curve in &mut curves {
        let (start, end) = (
            &path.poses()[curve.pieces[0]],
            &path.poses()[curve.pieces[1] + 1],
        );
        curve.radius = curve.arc_length / curve.turn_rad.abs();
        let schneider_rad =
            |to| schneider::angle_rad(start.direction, start.point, to).unwrap_or(0.0);
        curve.schneider_rad = schneider_rad(end.point);
        curve.schneider_to_apex_rad = schneider_rad(path.end());
    }
    curves
}

/// A bend of a smooth path, its curvature weighed by its turning: a bend that
/// comes and goes gently has the radius at which it mostly turns.
fn whole(path: &StraightArcPath, [first, last]: [usize; 2]) -> Curve {
    let pieces = &path.pieces()[first..=last];
    let stations = path.lengths_at_poses();
    let (start, end) = (&path.poses()[first], &path.poses()[last + 1]);
    let turn_rad: f64 = pieces.iter().map(Piece::turn_rad).sum();
    let (mut turns, mut weighted) = (0.0, 0.0);
    for piece in pieces.iter().filter(|piece| piece.length() > 0.0) {
        let turn = piece.turn_rad();
        turns += turn.abs();
        weighted += turn * turn / piece.length();
    }
    let schneider_rad = |to| schneider::angle_rad(start.direction, start.point, to).unwrap_or(0.0);
    Curve {
        turn_rad,
        radius: turns / weighted,
        arc_length: stations[last + 1] - stations[first],
        start_from_apex: path.length() - stations[first],
        end_from_apex: path.length() - stations[last + 1],
        schneider_rad: schneider_rad(end.point),
        schneider_to_apex_rad: schneider_rad(path.end()),
        pieces: [first, last],
    }
}

/// Half a unit of the third decimal of a degree: a turn shown as 10.000° is not
/// above 10°.
const ROUNDING_RAD: f64 = 0.0005 * std::f64::consts::PI / 180.0;

/// The smaller of the greatest turns to either side, rad; 0 where the canal
/// bends to one side only.
pub fn opposed_turn_rad(curves: &[Curve]) -> f64 {
    let greatest = |side: f64| {
        let turns = curves.iter().map(|curve| side * curve.turn_rad);
        turns.fold(0.0, f64::max)
    };
    greatest(1.0).min(greatest(-1.0))
}

/// Two curves of opposite sign each turn by more than `threshold_rad`.
pub fn is_s_shaped(opposed_turn_rad: f64, threshold_rad: f64) -> bool {
    opposed_turn_rad > threshold_rad + ROUNDING_RAD
}

/// The tightest arc of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TightestArc {
    /// Its radius.
    pub radius: f64,
    /// Length from its middle to the apical end.
    pub middle_from_apex: f64,
}

/// Pieces of a smooth path over which its curvature is averaged where it is
/// tightest: a tenth of the path.
const STRETCH: usize = 2;

/// The tightest stretch of a smooth path.
fn tightest_stretch(path: &StraightArcPath) -> Result<TightestArc, Missing> {
    let mut tightest: Option<TightestArc> = None;
    for &[first, last] in path.bends() {
        let pieces = &path.pieces()[first..=last];
        let width = STRETCH.min(pieces.len());
        for (at, window) in pieces.windows(width).enumerate() {
            let turn = window.iter().map(Piece::turn_rad).sum::<f64>().abs();
            let length = window.iter().map(Piece::length).sum::<f64>();
            let radius = length / turn;
            if turn >= SMALLEST_TURN_RAD && tightest.is_none_or(|t| radius < t.radius) {
                let from = path.lengths_at_poses()[first + at];
                tightest = Some(TightestArc {
                    radius,
                    middle_from_apex: path.length() - from - 0.5 * length,
                });
            }
        }
    }
    tightest.ok_or(Missing::NoCurve)
}

/// The arc of smallest radius.
///
/// # Errors
/// [`Missing::NoCurve`] when the path is straight.
pub fn tightest_arc(path: &StraightArcPath) -> Result<TightestArc, Missing> {
    if !path.bends().is_empty() {
        return tightest_stretch(path);
    }
    let arcs = path
        .pieces()
        .iter()
        .zip(path.lengths_at_poses())
        .filter_map(|(piece, start)| {
            let turn = piece.turn_rad().abs();
            (turn >= SMALLEST_TURN_RAD).then(|| TightestArc {
                radius: piece.length() / turn,
                middle_from_apex: path.length() - start - 0.5 * piece.length(),
            })
        });
    arcs.min_by(|a, b| a.radius.total_cmp(&b.radius))
        .ok_or(Missing::NoCurve)
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Point;

    fn close(value: f64, expected: f64) {
        assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
    }

    /// Two bends of a smooth path, put together by hand (DERIVED): 5 straight,
    /// three arcs of 2 that turn by 0.1, 0.3 and 0.2, 1 straight, two arcs of 1
    /// that turn back by 0.04 each, 4 straight.
    #[test]
    fn bends_of_a_smooth_path_are_weighed_by_their_turning() {
        let straight = |length| Piece::Straight { length };
        let arc = |length, turn_rad| Piece::Arc { length, turn_rad };
        let pieces = [
            straight(5.0),
            arc(2.0, 0.1),
            arc(2.0, 0.3),
            arc(2.0, 0.2),
            straight(1.0),
            arc(1.0, -0.04),
            arc(1.0, -0.04),
            straight(4.0),
        ];
        let path = StraightArcPath::new(Point::new(2.0, 1.0), 0.3, &pieces)
            .unwrap()
            .with_bends(&[[1, 3], [5, 6]]);
        let found = curves(&path);
        assert_eq!(found.len(), 2);
        let [first, second] = [&found[0], &found[1]];
        close(first.turn_rad, 0.6);
        close(first.arc_length, 6.0);
        close(first.radius, 0.6 / (0.01 / 2.0 + 0.09 / 2.0 + 0.04 / 2.0));
        close(first.start_from_apex, 13.0);
        close(first.end_from_apex, 7.0);
        close(second.turn_rad, -0.08);
        close(second.arc_length, 2.0);
        close(second.radius, 25.0);
        close(second.end_from_apex, 4.0);
        // The tightest two neighbours: 0.3 and 0.2 over 4.
        let tightest = tightest_arc(&path).unwrap();
        close(tightest.radius, 8.0);
        close(tightest.middle_from_apex, 18.0 - 7.0 - 2.0);
        // Also where they come last.
        let pieces: Vec<Piece> = pieces.into_iter().rev().collect();
        let turned = StraightArcPath::new(Point::ORIGIN, 0.0, &pieces)
            .unwrap()
            .with_bends(&[[1, 2], [4, 6]]);
        let tightest = tightest_arc(&turned).unwrap();
        close(tightest.radius, 8.0);
        close(tightest.middle_from_apex, 18.0 - 7.0 - 2.0);
    }
}
