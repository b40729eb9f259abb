//! The interpolating curve: lengths, places, invariance, ends.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_3};

use kurbo::{ParamCurve, ParamCurveDeriv, PathSeg, Point, Vec2};
use lengthfilm::geometry::{DrawnCurve, GeometryError};
use proptest::prelude::*;

use super::{close, motions, same_place};

/// `count` points on an arc of `radius` that turns by `angle`.
fn on_arc(radius: f64, angle: f64, count: usize) -> Vec<Point> {
    (0..count)
        .map(|i| angle * i as f64 / (count - 1) as f64)
        .map(|a| Point::new(radius * a.sin(), radius * (1.0 - a.cos())))
        .collect()
}

fn curve(points: &[Point]) -> DrawnCurve {
    DrawnCurve::through(points).unwrap()
}

/// Length of the curve's own Bézier segments by composite Gauss–Legendre
/// quadrature of five points, 64 pieces to a segment.
fn length_by_quadrature(curve: &DrawnCurve) -> f64 {
    const NODES: [(f64, f64); 5] = [
        (0.0, 128.0 / 225.0),
        (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.906_179_845_938_664, 0.236_926_885_056_189_1),
        (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    ];
    const PIECES: usize = 64;
    let width = 1.0 / PIECES as f64;
    let of_segment = |segment: PathSeg| {
        let speed = segment.to_cubic().deriv();
        let at = |piece: usize, node: f64| width * (piece as f64 + 0.5 + 0.5 * node);
        (0..PIECES)
            .flat_map(|piece| NODES.map(|(node, weight)| (at(piece, node), weight)))
            .map(|(t, weight)| 0.5 * width * weight * speed.eval(t).to_vec2().hypot())
            .sum::<f64>()
    };
    curve.to_bez_path().segments().map(of_segment).sum()
}

/// Arc length r·θ in closed form. The natural ends are straight where the arc
/// is not, which costs an error of the third order in the distance of the
/// points: halving it leaves an eighth.
#[test]
fn the_length_of_an_arc_comes_out_at_every_density() {
    for (radius, angle) in [(5.0, FRAC_PI_2), (12.0, FRAC_PI_3), (2.0, 3.0)] {
        let error = |count| curve(&on_arc(radius, angle, count)).length() - radius * angle;
        let mut former: f64 = error(5);
        assert!(former.abs() < 0.01 * radius * angle, "{former}");
        for count in [9, 17, 33, 65, 129] {
            let now = error(count);
            let order = (former / now).abs().log2();
            assert!((2.5..4.6).contains(&order), "{count} points: order {order}");
            former = now;
        }
        assert!(former.abs() < 3e-7 * radius * angle, "{former}");
    }
}

/// A parabola y = x²/10 from 0 to 8: ½x√(1 + x²/25) + 2.5 asinh(x/5).
#[test]
fn the_length_of_a_parabola_comes_out() {
    let expected = 4.0 * (1.0_f64 + 64.0 / 25.0).sqrt() + 2.5 * 1.6_f64.asinh();
    for (count, tolerance) in [(6, 0.03), (11, 4e-3), (41, 1e-4), (161, 2e-6)] {
        let x = |i: usize| 8.0 * i as f64 / (count - 1) as f64;
        let points: Vec<_> = (0..count)
            .map(|i| Point::new(x(i), 0.1 * x(i) * x(i)))
            .collect();
        close(curve(&points).length(), expected, tolerance);
    }
}

/// Two points make a straight line, and so do any on one line.
#[test]
fn points_on_a_line_give_its_length() {
    let at = |f: f64| Point::new(3.0 + 4.0 * f, 1.0 - 3.0 * f);
    for fractions in [
        &[0.0, 1.0][..],
        &[0.0, 0.3, 1.0],
        &[0.0, 0.01, 0.5, 0.52, 1.0],
    ] {
        let points: Vec<_> = fractions.iter().map(|&f| at(f)).collect();
        let line = curve(&points);
        close(line.length(), 5.0, 1e-12);
        close(line.chord(), 5.0, 1e-12);
        same_place(line.point_at_length(2.0), at(0.4), 1e-9);
        same_place(line.point_at_length(-1.0), at(-0.2), 1e-9);
        same_place(line.point_at_length(6.0), at(1.2), 1e-9);
    }
}

/// C2: at every inner point, place, direction and second derivative over the
/// chord-length parameter agree from both sides; at the ends the second is 0.
#[test]
fn the_pieces_join_smoothly_and_end_naturally() {
    let points: Vec<_> = [(0., 0.), (1., 2.), (1.5, 5.), (4., 6.), (4.2, 9.)]
        .map(Point::from)
        .to_vec();
    let path = curve(&points).to_bez_path();
    let pieces: Vec<_> = path.segments().map(|s| s.to_cubic()).collect();
    let chord = |i: usize| points[i].distance(points[i + 1]);
    let first = |i: usize, t: f64| pieces[i].deriv().eval(t).to_vec2() / chord(i);
    let second =
        |i: usize, t: f64| pieces[i].deriv().deriv().eval(t).to_vec2() / (chord(i) * chord(i));
    let last = pieces.len() - 1;
    for i in 0..last {
        assert_eq!(pieces[i].p3, points[i + 1]);
        assert!((first(i, 1.0) - first(i + 1, 0.0)).hypot() < 1e-12);
        assert!((second(i, 1.0) - second(i + 1, 0.0)).hypot() < 1e-12);
    }
    assert!(second(0, 0.0).hypot() < 1e-12);
    assert!(second(last, 1.0).hypot() < 1e-12);
}

#[test]
fn unusable_points_are_refused() {
    let p = Point::new;
    let error = |points: &[Point]| DrawnCurve::through(points).unwrap_err();
    let few = |given| GeometryError::TooFewPoints { needed: 2, given };
    assert_eq!(error(&[]), few(0));
    assert_eq!(error(&[p(1.0, 1.0)]), few(1));
    assert_eq!(
        error(&[p(0., 0.), p(1., 0.), p(1., 0.)]),
        GeometryError::Coincident { second: 2 }
    );
    for bad in [f64::NAN, f64::INFINITY, 1e200] {
        assert_eq!(
            error(&[p(0., 0.), p(1., bad)]),
            GeometryError::NotFinite { index: 1 }
        );
    }
    // A curve that cannot be refitted stays as it was.
    let mut kept = curve(&on_arc(5.0, 1.0, 7));
    let length = kept.length();
    assert!(kept.refit(&[p(0., 0.), p(0., 0.)]).is_err());
    assert_eq!(kept.length(), length);
}

/// A micrometre between two points of a canal changes its length by little
/// more than that.
#[test]
fn points_that_almost_touch_are_no_trouble() {
    let mut points = on_arc(8.0, 0.9, 9);
    let before = curve(&points).length();
    points.insert(5, points[4] + Vec2::new(1e-6, 1e-6));
    let after = curve(&points);
    assert!(after.length().is_finite());
    close(after.length(), before, 0.02);
    close(after.length(), length_by_quadrature(&after), 1e-8 * before);
}

fn trace() -> impl Strategy<Value = Vec<Point>> {
    let step = (0.3..3.0, -1.0_f64..1.0);
    proptest::collection::vec(step, 1..14).prop_map(|steps| {
        let mut at = Point::new(4.0, -2.0);
        let mut points = vec![at];
        for (length, heading) in steps {
            at += Vec2::from_angle(heading) * length;
            points.push(at);
        }
        points
    })
}

proptest! {
    /// The stated accuracy of the length, 1e-9, against another quadrature.
    #[test]
    fn length_is_accurate(points in trace()) {
        let curve = curve(&points);
        let expected = length_by_quadrature(&curve);
        prop_assert!((curve.length() - expected).abs() <= 1e-9 * expected);
    }

    /// Turned, mirrored or walked backwards it is the same curve.
    #[test]
    fn it_does_not_depend_on_the_frame(points in trace(), fraction in -0.2..1.2) {
        let here = curve(&points);
        let (length, at) = (here.length(), here.length() * fraction);
        for motion in motions() {
            let moved: Vec<_> = points.iter().map(|&p| motion * p).collect();
            let there = curve(&moved);
            prop_assert!((there.length() - length).abs() <= 1e-9 * length);
            let place = motion * here.point_at_length(at);
            prop_assert!(place.distance(there.point_at_length(at)) <= 1e-8);
        }
        let backwards: Vec<_> = points.iter().rev().copied().collect();
        let back = curve(&backwards);
        prop_assert!((back.length() - length).abs() <= 1e-9 * length);
        let place = here.point_at_length(at);
        prop_assert!(place.distance(back.point_at_length(length - at)) <= 1e-8);
    }

    /// It passes through its points, at the lengths it says.
    #[test]
    fn it_passes_through_its_points(points in trace()) {
        let curve = curve(&points);
        prop_assert_eq!(curve.start(), points[0]);
        prop_assert_eq!(curve.end(), points[points.len() - 1]);
        for (i, &point) in points.iter().enumerate() {
            let at = curve.length_at_point(i).unwrap();
            prop_assert!(curve.point_at_length(at).distance(point) <= 1e-8);
        }
        prop_assert_eq!(curve.length_at_point(points.len()), None);
    }

    /// No place of the curve is nearer than the foot, which lies at the length
    /// stated and square to the curve.
    #[test]
    fn the_foot_is_the_nearest_place(points in trace(), x in -5.0..25.0, y in -15.0..15.0) {
        let (curve, point) = (curve(&points), Point::new(x, y));
        let foot = curve.project(point);
        prop_assert!(curve.point_at_length(foot.length_at).distance(foot.foot) <= 1e-7);
        prop_assert!((foot.foot.distance(point) - foot.distance()).abs() <= 1e-9);
        for i in -50..=550 {
            let place = curve.point_at_length(curve.length() * f64::from(i) / 500.0);
            prop_assert!(place.distance(point) >= foot.distance() - 1e-9);
        }
        let along = curve.tangent_at_length(foot.length_at);
        prop_assert!((point - foot.foot).dot(along).abs() <= 1e-5 * (1.0 + foot.distance()));
    }
}

/// Straight pieces of 3, 5 and 7: every place is where counting off the
/// lengths puts it.
#[test]
fn places_along_straight_pieces_are_counted_off() {
    let corners = [(0.0, 0.0), (3.0, 0.0), (3.0, 5.0), (10.0, 5.0)].map(Point::from);
    let line = DrawnCurve::straight_pieces(&corners).unwrap();
    close(line.length(), 15.0, 1e-12);
    for (length, place) in [
        (0.5, (0.5, 0.0)),
        (2.0, (2.0, 0.0)),
        (4.5, (3.0, 1.5)),
        (7.0, (3.0, 4.0)),
        (9.0, (4.0, 5.0)),
        (14.5, (9.5, 5.0)),
    ] {
        same_place(line.point_at_length(length), place.into(), 1e-9);
        close(line.project(place.into()).length_at, length, 1e-9);
    }
}

/// On a curve through nine points of an arc, the length to a place is that of
/// the curve cut there, measured in another way.
#[test]
fn places_along_a_curve_are_as_far_as_it_is_long() {
    let line = curve(&on_arc(9.0, 1.9, 9));
    let whole = length_by_quadrature(&line);
    let segments: Vec<PathSeg> = line.to_bez_path().segments().collect();
    // Lengths of chords of very many places, by the parameters alone.
    let mut reached = 0.0;
    let mut before = line.start();
    for segment in &segments {
        for k in 1..=4000 {
            let place = segment.eval(f64::from(k) / 4000.0);
            reached += before.distance(place);
            before = place;
            if k % 571 == 0 {
                same_place(line.point_at_length(reached), place, 1e-5);
                close(line.project(place).length_at, reached, 1e-5);
            }
        }
    }
    close(reached, whole, 1e-5);
}
