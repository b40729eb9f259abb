//! Distances between paths against SciPy, similaritymeasures and closed
//! forms (tests/scripts/distance_reference.py).

use kurbo::Point;
use lengthfilm::grading::{
    consensus::consensus,
    distances::{
        deviations, directed_distances, hausdorff_distance, runs_backwards, trace_distances,
    },
    frechet::{FRECHET_TOLERANCE, frechet_distance},
    path::{MeasuredPath, PathError},
};
use proptest::prelude::*;
use serde_json::Value;

fn path(points: &[(f64, f64)]) -> MeasuredPath {
    let points: Vec<Point> = points.iter().map(|&p| p.into()).collect();
    MeasuredPath::new(&points).unwrap()
}

fn json_path(points: &Value) -> MeasuredPath {
    let points: Vec<[f64; 2]> = serde_json::from_value(points.clone()).unwrap();
    path(&points.iter().map(|p| (p[0], p[1])).collect::<Vec<_>>())
}

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected}"
    );
}

#[test]
fn distances_equal_general_libraries() {
    let cases: Vec<Value> =
        serde_json::from_str(include_str!("../data/curve_distances.json")).unwrap();
    assert_eq!(cases.len(), 8);
    for case in &cases {
        let name = case["name"].as_str().unwrap();
        let number = |key: &str| case[key].as_f64().unwrap();
        let (reference, trace) = (json_path(&case["reference"]), json_path(&case["trace"]));
        let d = trace_distances(&reference, &trace);
        // 200 stations against 20,000.
        close(
            d.mean_to_reference,
            number("mean_to_reference_mm"),
            3e-4,
            name,
        );
        close(
            d.mean_from_reference,
            number("mean_from_reference_mm"),
            3e-4,
            name,
        );
        close(d.percentile_95, number("percentile_95_mm"), 5e-3, name);
        // SciPy sees 20,001 points of each, up to 0.0009 mm apart.
        close(d.hausdorff, number("hausdorff_mm"), 9e-4, name);
        // A discrete Fréchet distance lies within one step of the continuous
        // one.
        close(
            d.frechet,
            number("discrete_frechet_1201_mm"),
            number("step_1201_mm"),
            name,
        );
        close(
            d.frechet,
            number("discrete_frechet_301_mm"),
            4.0 * number("step_1201_mm"),
            name,
        );
    }
}

#[test]
fn a_trace_that_doubles_back_is_found_by_frechet_alone() {
    let reference = path(&[(0.0, 0.0), (10.0, 0.0)]);
    let trace = path(&[(0.0, 0.1), (7.0, 0.1), (3.0, 0.4), (10.0, 0.2)]);
    let d = trace_distances(&reference, &trace);
    // Waiting at x = m while the trace goes from (7, 0.1) back to (3, 0.4):
    // (7 − m)² + 0.01 = (m − 3)² + 0.16, m = 4.98125 (DERIVED).
    close(
        d.frechet,
        2.01875_f64.hypot(0.1),
        FRECHET_TOLERANCE,
        "Fréchet",
    );
    close(d.hausdorff, 0.4, 1e-6, "Hausdorff");
}

#[test]
fn closed_forms() {
    let line = path(&[(0.0, 0.0), (10.0, 0.0)]);
    let aside = path(&[(0.0, 0.5), (3.0, 0.5), (10.0, 0.5)]);
    let d = trace_distances(&line, &aside);
    for (value, what) in [
        (d.mean, "mean"),
        (d.percentile_95, "95 %"),
        (d.hausdorff, "Hausdorff"),
        (d.frechet, "Fréchet"),
    ] {
        close(value, 0.5, 2e-6, what);
    }
    // A wedge: distances grow evenly from 0 to 1·cos; 95 % is 0.95 of the end.
    let wedge = path(&[(0.0, 0.0), (10.0, 1.0)]);
    let d = trace_distances(&line, &wedge);
    close(d.mean_to_reference, 0.5, 1e-12, "wedge mean");
    close(d.hausdorff, 1.0, 1e-6, "wedge Hausdorff");
    close(d.percentile_95, 0.95, 3e-3, "wedge 95 %");
    // Reversed, the leash must span the whole line.
    let back = path(&[(10.0, 0.0), (0.0, 0.0)]);
    close(
        trace_distances(&line, &back).frechet,
        10.0,
        1e-6,
        "reversed",
    );
    close(hausdorff_distance(&line, &back), 0.0, 1e-6, "reversed");
    assert!(runs_backwards(&line, &back) && !runs_backwards(&line, &wedge));
}

/// The farthest place may lie between the corners of both paths.
#[test]
fn hausdorff_between_corners() {
    // Above the middle of the base, the two legs are equally far: distance
    // from (5, 0) to the legs of the roof open at the bottom.
    let base = path(&[(0.0, 0.0), (10.0, 0.0)]);
    let roof = path(&[(0.0, 0.0), (0.0, 5.0), (10.0, 5.0), (10.0, 0.0)]);
    // From (5, 0): 5 to either leg and to the top.
    close(hausdorff_distance(&base, &roof), 5.0, 1e-6, "roof");
    let flat = path(&[(0.0, 0.0), (0.0, 20.0), (10.0, 20.0), (10.0, 0.0)]);
    close(
        directed_distances(&base, &flat, 1000)
            .iter()
            .copied()
            .fold(0.0, f64::max),
        5.0,
        0.006,
        "legs",
    );
}

#[test]
fn deviations_have_sides_and_places() {
    // Going down the film (towards the apex, +y), the right hand is −x.
    let reference = path(&[(0.0, 0.0), (0.0, 10.0)]);
    let trace = path(&[(-0.2, 0.0), (-0.2, 5.0), (0.3, 10.0)]);
    let d = deviations(&reference, &trace, 11);
    assert_eq!(d.len(), 11);
    close(d[0].from_end, 10.0, 1e-12, "place");
    close(d[10].from_end, 0.0, 1e-12, "place");
    close(d[2].offset, 0.2, 1e-12, "right of the path");
    // The nearest place of the slanted piece, which ends beside the apex.
    close(
        d[10].offset,
        -0.3 * 5.0 / 5.0_f64.hypot(0.5),
        1e-12,
        "left of the path",
    );
}

#[test]
fn consensus_of_shifted_lines() {
    let at = |x: f64| path(&[(x, 0.0), (x, 10.0)]);
    let c = consensus(&[at(-0.3), at(0.0), at(0.3)], 21).unwrap();
    assert_eq!(c.points.len(), 21);
    for (i, p) in c.points.iter().enumerate() {
        close(p.x, 0.0, 1e-12, "x");
        close(p.y, 0.5 * i as f64, 1e-12, "y");
        close(c.spread_across[i], 0.3, 1e-12, "across");
        close(c.spread_along[i], 0.0, 1e-12, "along");
    }
    // Two lengths: the spread along grows towards the apex, 0.5·√2 there.
    let c = consensus(&[at(0.0), path(&[(0.0, 0.0), (0.0, 11.0)])], 11).unwrap();
    close(c.spread_along[10], 0.5_f64.sqrt(), 1e-12, "along");
    close(c.spread_along[0], 0.0, 1e-12, "along");
    close(c.points[10].y, 10.5, 1e-12, "y");
    assert_eq!(consensus(&[], 10), Err(PathError::TooFewPoints(0)));
    let there = path(&[(0.0, 0.0), (1.0, 0.0)]);
    let back = path(&[(1.0, 0.0), (0.0, 0.0)]);
    assert_eq!(consensus(&[there, back], 2), Err(PathError::NoLength));
}

#[test]
fn unusable_paths_are_refused() {
    let new = |points: &[(f64, f64)]| {
        MeasuredPath::new(&points.iter().map(|&p| p.into()).collect::<Vec<_>>()).unwrap_err()
    };
    assert_eq!(new(&[]), PathError::TooFewPoints(0));
    assert_eq!(new(&[(1.0, 1.0)]), PathError::TooFewPoints(1));
    assert_eq!(new(&[(1.0, 1.0), (1.0, 1.0)]), PathError::NoLength);
    assert_eq!(new(&[(1.0, 1.0), (f64::NAN, 1.0)]), PathError::NotFinite(2));
}

fn any_path() -> impl Strategy<Value = MeasuredPath> {
    prop::collection::vec((-5.0..5.0, -5.0..20.0), 2..14).prop_map(|points| path(&points))
}

/// Discrete Fréchet distance of dense samples, the textbook recursion.
fn discrete_frechet(a: &[Point], b: &[Point]) -> f64 {
    let mut row = vec![f64::INFINITY; b.len()];
    for (i, p) in a.iter().enumerate() {
        let mut diagonal = if i == 0 { 0.0 } else { f64::INFINITY };
        let mut left = f64::INFINITY;
        for (j, q) in b.iter().enumerate() {
            let above = row[j];
            let reach = diagonal.min(above).min(left);
            left = reach.max(p.distance(*q));
            (diagonal, row[j]) = (above, left);
        }
    }
    row[b.len() - 1]
}

proptest! {
    #[test]
    fn frechet_agrees_with_dense_samples(a in any_path(), b in any_path()) {
        let exact = frechet_distance(&a, &b, hausdorff_distance(&a, &b));
        let count = 400;
        let sampled = discrete_frechet(&a.resampled(count), &b.resampled(count));
        let step = a.length().max(b.length()) / (count - 1) as f64;
        prop_assert!((exact - sampled).abs() <= step + FRECHET_TOLERANCE, "{exact} {sampled}");
        prop_assert!((exact - frechet_distance(&b, &a, 0.0)).abs() <= 2.0 * FRECHET_TOLERANCE);
    }

    #[test]
    fn nearest_agrees_with_every_segment(a in any_path(), x in -8.0..8.0, y in -8.0..22.0, guess in 0_usize..20) {
        let p = Point::new(x, y);
        let nearest = a.nearest(p, guess);
        let brute = a
            .points()
            .windows(2)
            .map(|s| {
                let line = kurbo::Line::new(s[0], s[1]);
                kurbo::ParamCurveNearest::nearest(&line, p, 1e-12).distance_sq.sqrt()
            })
            .fold(f64::INFINITY, f64::min);
        prop_assert!((nearest.distance - brute).abs() < 1e-9);
        prop_assert!((a.point_at(nearest.station).distance(p) - brute).abs() < 1e-9);
    }

    #[test]
    fn hausdorff_bounds_every_sample(a in any_path(), b in any_path()) {
        let h = hausdorff_distance(&a, &b);
        let farthest = directed_distances(&a, &b, 2000)
            .into_iter()
            .chain(directed_distances(&b, &a, 2000))
            .fold(0.0, f64::max);
        let step = a.length().max(b.length()) / 2000.0;
        prop_assert!(farthest <= h + 2e-6);
        prop_assert!(h <= farthest + step);
    }
}
