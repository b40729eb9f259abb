//! The path of straight pieces and arcs against circles in closed form.

use std::f64::consts::{FRAC_PI_2, PI};

use kurbo::{ParamCurveNearest, Point, Shape};
use lengthfilm::geometry::{GeometryError, MAX_PIECES, Piece, StraightArcPath};
use proptest::prelude::*;

use super::{close, same_place};
use crate::support::pieces::{arc, straight};

fn from_origin(pieces: &[Piece]) -> StraightArcPath {
    StraightArcPath::new(Point::ORIGIN, 0.0, pieces).unwrap()
}

/// 3 straight, a quarter circle of radius 2 to the right, 1 straight, another
/// back: corners of a grid.
#[test]
fn quarter_circles_end_on_the_grid() {
    let path = from_origin(&[
        straight(3.0),
        arc(2.0, 90.0),
        straight(1.0),
        arc(2.0, -90.0),
    ]);
    let nodes = [(0., 0.), (3., 0.), (5., 2.), (5., 3.), (7., 5.)];
    for (pose, node) in path.poses().iter().zip(nodes) {
        same_place(pose.point, node.into(), 1e-12);
    }
    close(path.length(), 4.0 + 2.0 * PI, 1e-12);
    close(path.turn_rad(), 0.0, 1e-15);
    close(path.heading_at_length_rad(3.0 + PI), FRAC_PI_2, 1e-12);
    close(path.curvature_at_length(4.0), 0.5, 1e-15);
    close(path.curvature_at_length(path.length() - 0.1), -0.5, 1e-15);
    assert_eq!(path.curvature_at_length(-1.0), 0.0);
    assert_eq!(path.arc_count(), 2);
    // Straight on beyond both ends.
    same_place(path.point_at_length(-2.0), Point::new(-2.0, 0.0), 1e-12);
    same_place(
        path.point_at_length(path.length() + 2.0),
        Point::new(9.0, 5.0),
        1e-12,
    );
    let half = path.pose_at_length(3.0 + 0.5 * PI);
    let diagonal = 2.0 * std::f64::consts::FRAC_1_SQRT_2;
    same_place(
        half.point,
        Point::new(3.0 + diagonal, 2.0 - diagonal),
        1e-12,
    );
    close(half.heading_rad(), 0.5 * FRAC_PI_2, 1e-12);
}

/// About a circle that is almost closed the foot lies on the radius and the
/// offset is positive to the right. (Outside, near the gap, the prolongation of
/// an end is nearer.)
#[test]
fn feet_on_a_circle_lie_on_the_radius() {
    let path = from_origin(&[arc(4.0, 350.0)]);
    let centre = Point::new(0.0, 4.0);
    let foot_at = |degrees: f64, distance: f64| {
        let outward = kurbo::Vec2::from_angle(degrees.to_radians() - FRAC_PI_2);
        path.project(centre + outward * distance)
    };
    for degrees in [10.0_f64, 80.0, 170.0, 260.0, 340.0] {
        let foot = foot_at(degrees, 3.0);
        close(foot.offset, 1.0, 1e-9);
        close(foot.length_at, 4.0 * degrees.to_radians(), 1e-9);
    }
    for degrees in [80.0_f64, 170.0, 260.0] {
        let foot = foot_at(degrees, 5.5);
        close(foot.offset, -1.5, 1e-9);
        close(foot.length_at, 4.0 * degrees.to_radians(), 1e-9);
    }
}

#[test]
fn a_path_that_is_none_is_refused() {
    let new = |pieces: &[Piece]| StraightArcPath::new(Point::ORIGIN, 0.0, pieces).unwrap_err();
    assert_eq!(new(&[]), GeometryError::PieceCount { given: 0 });
    let many = [straight(1.0); MAX_PIECES + 1];
    assert_eq!(new(&many), GeometryError::PieceCount { given: many.len() });
    for length in [-1.0, f64::NAN, f64::INFINITY] {
        let error = new(&[straight(1.0), straight(length)]);
        assert_eq!(error, GeometryError::InvalidPiece { index: 1 });
    }
    let turn_rad = f64::NAN;
    let error = new(&[Piece::Arc {
        length: 1.0,
        turn_rad,
    }]);
    assert_eq!(error, GeometryError::InvalidPiece { index: 0 });
    let off = StraightArcPath::new(Point::new(f64::NAN, 0.0), 0.0, &[straight(1.0)]);
    assert_eq!(off.unwrap_err(), GeometryError::NotFinite { index: 0 });
}

fn pieces() -> impl Strategy<Value = Vec<Piece>> {
    let one = (any::<bool>(), 0.2..6.0, 5.0..80.0, any::<bool>()).prop_map(
        |(is_arc, size, degrees, left): (bool, f64, f64, bool)| {
            if is_arc {
                arc(size, if left { -degrees } else { degrees })
            } else {
                straight(size)
            }
        },
    );
    proptest::collection::vec(one, 1..=MAX_PIECES)
}

proptest! {
    /// The Bézier form keeps its tolerance, by length and by distance, at every
    /// tolerance asked for.
    #[test]
    fn bezier_segments_keep_their_tolerance(pieces in pieces()) {
        let path = StraightArcPath::new(Point::new(2.0, 1.0), 0.7, &pieces).unwrap();
        for tolerance in [1e-1, 1e-3, 1e-6] {
            let bezier = path.to_bez_path(tolerance);
            prop_assert!(bezier.perimeter(1e-9) <= path.length() + 1e-6 + 8.0 * tolerance);
            for i in 0..=40 {
                let place = path.point_at_length(path.length() * f64::from(i) / 40.0);
                let apart = bezier
                    .segments()
                    .map(|s| s.nearest(place, 1e-9).distance_sq.sqrt())
                    .fold(f64::INFINITY, f64::min);
                prop_assert!(apart <= tolerance + 1e-6, "{apart} at {tolerance}");
            }
        }
        let fine = path.to_bez_path(1e-9).perimeter(1e-10);
        prop_assert!((fine - path.length()).abs() <= 1e-6);
    }

    /// The nearest place is no farther than any sampled one, prolongations
    /// included.
    #[test]
    fn the_foot_is_the_nearest_place(pieces in pieces(), x in -10.0..30.0, y in -20.0..20.0) {
        let path = StraightArcPath::new(Point::new(2.0, 1.0), 0.7, &pieces).unwrap();
        let point = Point::new(x, y);
        let foot = path.project(point);
        prop_assert!(path.point_at_length(foot.length_at).distance(foot.foot) <= 1e-9);
        prop_assert!((foot.foot.distance(point) - foot.distance()).abs() <= 1e-9);
        for i in -200..=1200 {
            let place = path.point_at_length(path.length() * f64::from(i) / 1000.0);
            prop_assert!(place.distance(point) >= foot.distance() - 1e-9);
        }
    }

    /// Heading and place are those of one another: a short step goes where the
    /// heading points.
    #[test]
    fn headings_are_those_of_the_path(pieces in pieces(), fraction in 0.01..0.99) {
        const STEP: f64 = 1e-6;
        let path = StraightArcPath::new(Point::new(2.0, 1.0), 0.7, &pieces).unwrap();
        let at = path.length() * fraction;
        let step = path.point_at_length(at + STEP) - path.point_at_length(at - STEP);
        let heading = kurbo::Vec2::from_angle(path.heading_at_length_rad(at));
        prop_assert!((step / (2.0 * STEP) - heading).hypot() <= 1e-4);
        prop_assert!((path.pose_at_length(at).direction - heading).hypot() <= 1e-9);
    }

    /// Scaled about the origin: lengths and places times the factor, angles kept.
    #[test]
    fn scaling_keeps_angles(pieces in pieces(), factor in 0.01..50.0) {
        let path = StraightArcPath::new(Point::new(2.0, 1.0), 0.7, &pieces).unwrap();
        let scaled = path.scaled(factor).unwrap();
        prop_assert!((scaled.length() - factor * path.length()).abs() <= 1e-9 * scaled.length());
        prop_assert_eq!(scaled.turn_rad(), path.turn_rad());
        let end = (path.end().to_vec2() * factor).to_point();
        prop_assert!(scaled.end().distance(end) <= 1e-9 * (1.0 + end.to_vec2().hypot()));
    }
}

/// The nearest place by looking at very many, also about arcs of more than half
/// a turn and beyond both ends.
#[test]
fn the_foot_is_the_nearest_of_all_places() {
    let paths = [
        from_origin(&[arc(2.0, 300.0)]),
        from_origin(&[arc(2.0, -250.0), straight(1.0)]),
        from_origin(&[straight(2.0), arc(1.5, 200.0), straight(4.0)]),
        from_origin(&[straight(1.0), arc(3.0, 70.0), arc(2.0, -320.0)]),
    ];
    for path in &paths {
        for k in 0..400 {
            // Spread over a square by an irrational turn.
            let (a, r) = (2.399_963 * f64::from(k), 0.3 * f64::from(k).sqrt());
            let point = Point::new(r * a.cos(), r * a.sin());
            let found = path.project(point);
            let most = 3.0 * path.length() + 10.0;
            let steps = 40_000;
            let least = (0..=steps)
                .map(|i| -10.0 + most * f64::from(i) / f64::from(steps))
                .map(|s| path.point_at_length(s).distance(point))
                .fold(f64::INFINITY, f64::min);
            assert!(
                (found.distance() - least).abs() < 2e-3,
                "{point}: {} and {least}",
                found.distance()
            );
            let at = path.point_at_length(found.length_at);
            same_place(at, found.foot, 1e-9);
        }
    }
}

#[test]
fn what_is_scaled_out_of_range_is_refused() {
    for start in [Point::new(1e60, 0.0), Point::new(0.0, 1e60)] {
        let path = StraightArcPath::new(start, 0.0, &[straight(2.0)]).unwrap();
        assert!(path.scaled(1e30).is_some());
        assert!(path.scaled(1e50).is_none(), "{start}");
    }
}
