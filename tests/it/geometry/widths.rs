//! Widths between two walls against walls in closed form.

use kurbo::Point;
use lengthfilm::geometry::{self, StraightArcPath, WallLine, WidthError, WidthProfile};

use super::close;
use crate::support::pieces::{arc, straight};

/// Widths between walls that are seen all along.
fn between_walls(
    path: &StraightArcPath,
    apex_at_mm: f64,
    left: &[Point],
    right: &[Point],
) -> Result<WidthProfile, WidthError> {
    let (left, right) = (WallLine::seen(left), WallLine::seen(right));
    WidthProfile::between_walls(path, apex_at_mm, left, right)
}

fn mean_width_at_end(
    path: &StraightArcPath,
    apex_at_mm: f64,
    length_mm: f64,
    left: &[Point],
    right: &[Point],
) -> Option<f64> {
    let (left, right) = (WallLine::seen(left), WallLine::seen(right));
    geometry::mean_width_at_end(path, apex_at_mm, length_mm, left, right)
}

/// Ten long, down the y axis of a film; its right is towards −x.
fn down() -> StraightArcPath {
    let heading_rad = std::f64::consts::FRAC_PI_2;
    StraightArcPath::new(Point::ORIGIN, heading_rad, &[straight(10.0)]).unwrap()
}

/// A straight wall that is `from` off the axis at −1 and `to` off it at 12.
fn wall(from: f64, to: f64) -> Vec<Point> {
    [-1.0, 5.5, 12.0]
        .map(|y| Point::new(from + (to - from) * (y + 1.0) / 13.0, y))
        .to_vec()
}

fn tapered() -> [Vec<Point>; 2] {
    [wall(0.6, 0.1), wall(-0.5, -0.2)]
}

/// How far apart the tapered walls are at `s` from the path's end.
fn tapered_width(s: f64) -> f64 {
    1.1 - 0.8 * (11.0 - s) / 13.0
}

#[test]
fn straight_walls_have_their_width_at_every_level() {
    let [left, right] = tapered();
    let profile = between_walls(&down(), 10.0, &left, &right).unwrap();
    let samples = profile.samples_mm();
    assert_eq!(samples.len(), 101);
    for &[s, width] in samples {
        close(width, tapered_width(s), 1e-9);
    }
    // Between the levels, at both ends, and nowhere beyond.
    for s in [0.0, 0.037, 0.05, 5.55, 9.99, 10.0] {
        close(profile.width_mm(s).unwrap(), tapered_width(s), 1e-9);
    }
    assert_eq!(profile.width_mm(-0.01), None);
    assert_eq!(profile.width_mm(10.01), None);
    // Counted from an apex that is not the path's end.
    let short = between_walls(&down(), 8.0, &left, &right).unwrap();
    close(short.width_mm(1.0).unwrap(), tapered_width(3.0), 1e-9);
    assert_eq!(short.samples_mm().len(), 81);
}

/// Circles about one centre are as far apart as their radii, on sections
/// normal to the circle between them.
#[test]
fn concentric_walls_have_one_width() {
    let path = StraightArcPath::new(Point::ORIGIN, 0.0, &[arc(8.0, 60.0)]).unwrap();
    let circle = |radius: f64| -> Vec<Point> {
        (-2..=32)
            .map(|k| (2.0 * f64::from(k)).to_radians())
            .map(|a| Point::new(radius * a.sin(), 8.0 - radius * a.cos()))
            .collect()
    };
    // The path turns to its right: the right wall is the inner one.
    let (left, right) = (circle(8.4), circle(7.7));
    let profile = between_walls(&path, path.length(), &left, &right).unwrap();
    assert!(profile.samples_mm().len() > 80);
    for &[_, width] in profile.samples_mm() {
        close(width, 0.7, 2e-3);
    }
}

/// A wall that folds back is met three times; the nearest meeting counts.
#[test]
fn of_several_meetings_the_nearest_counts() {
    let corners = [
        (0.3, -1.0),
        (0.3, 6.0),
        (0.9, 6.0),
        (0.9, 4.0),
        (1.6, 4.0),
        (1.6, 12.0),
    ];
    let corners = corners.map(Point::from);
    // Many points on each stretch keep the curve at its corners.
    let mut folded = vec![corners[0]];
    for pair in corners.windows(2) {
        folded.extend((1..=20).map(|k| pair[0].lerp(pair[1], f64::from(k) / 20.0)));
    }
    let right = wall(-0.2, -0.2);
    let profile = between_walls(&down(), 10.0, &folded, &right).unwrap();
    // Alone, among three, and alone again.
    for (s, width) in [(9.0, 0.5), (5.0, 0.5), (2.0, 1.8)] {
        close(profile.width_mm(s).unwrap(), width, 1e-3);
    }
}

#[test]
fn walls_that_are_none_are_told_apart() {
    let [left, right] = tapered();
    let between =
        |left: &[Point], right: &[Point]| between_walls(&down(), 10.0, left, right).unwrap_err();
    assert!(matches!(between(&right, &left), WidthError::Exchanged));
    let crossing = wall(-0.6, 0.6);
    // Crosses the right wall, which stands at −0.2 from end to end, a third of
    // the way down.
    let WidthError::Crossing { from_apex_mm } = between(&crossing, &wall(-0.2, -0.2)) else {
        panic!("they cross");
    };
    close(from_apex_mm, 10.0 - (13.0 / 3.0 - 1.0), 0.11);
    let away = [(50.0, 0.0), (50.0, 10.0)].map(Point::from);
    assert!(matches!(between(&left, &away), WidthError::NotBeside));
    assert!(matches!(
        between(&left[..1], &right),
        WidthError::NoLine { side: "left" }
    ));

    let new = |samples: &[[f64; 2]]| WidthProfile::new(samples.to_vec());
    assert!(new(&[[0.0, 0.3], [1.0, 0.4]]).is_ok());
    for wrong in [
        &[[0.0, 0.3]][..],
        &[[0.0, 0.3], [0.0, 0.4]],
        &[[1.0, 0.3], [0.0, 0.4]],
        &[[0.0, 0.3], [1.0, -0.1]],
        &[[0.0, 0.3], [1.0, f64::NAN]],
        &[[0.0, 0.3], [f64::INFINITY, 0.4]],
    ] {
        assert!(matches!(new(wrong), Err(WidthError::Samples)), "{wrong:?}");
    }
}

/// The mean over a stretch of walls that taper evenly is the width in its
/// middle.
#[test]
fn the_mean_at_the_end_is_the_width_in_the_middle() {
    let [left, right] = tapered();
    for length_mm in [1.0, 2.0, 5.0] {
        let mean = mean_width_at_end(&down(), 10.0, length_mm, &left, &right).unwrap();
        close(mean, tapered_width(0.5 * length_mm), 1e-9);
    }
    let short = mean_width_at_end(&down(), 7.0, 2.0, &left, &right).unwrap();
    close(short, tapered_width(4.0), 1e-9);
    let mean = |left: &[Point], right: &[Point]| mean_width_at_end(&down(), 10.0, 2.0, left, right);
    assert_eq!(mean(&right, &left), None, "exchanged");
    assert_eq!(mean(&wall(1.0, -0.3), &wall(0.0, 0.0)), None, "crossing");
    // A wall that ends 1.5 before the apex leaves most levels out, one that
    // ends 0.5 before it few.
    let ending = |at: f64| {
        vec![
            Point::new(0.4, -1.0),
            Point::new(0.4, 4.0),
            Point::new(0.4, at),
        ]
    };
    assert_eq!(mean(&ending(8.5), &wall(-0.2, -0.2)), None);
    close(mean(&ending(9.5), &wall(-0.2, -0.2)).unwrap(), 0.6, 1e-9);
}
