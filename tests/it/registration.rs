//! Registration against the publication's own example and against simulation.

use kurbo::{Point, Vec2};
use lengthfilm::registration::{
    RegistrationError, Scale, Similarity, expected_residual_rms, register, target_error_rms,
};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn points(values: &[(f64, f64)]) -> Vec<Point> {
    values.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

/// Umeyama 1991, IEEE Trans Pattern Anal Mach Intell 13:376–380, the paper's
/// own example (MEM, recomputed): a mirrored solution would fit exactly and
/// must not be found.
#[test]
fn the_published_example_is_not_mirrored() {
    let from = points(&[(0.0, 0.0), (1.0, 0.0), (0.0, 2.0)]);
    let to = points(&[(0.0, 0.0), (-1.0, 0.0), (0.0, 2.0)]);
    let found = register(&from, &to, Scale::Free).unwrap();
    let Similarity {
        scale,
        rotation_rad,
        shift,
    } = found.transform;
    assert!((scale - 0.721_110).abs() < 5e-7);
    assert!((rotation_rad.to_degrees() + 33.690).abs() < 5e-4);
    assert!((rotation_rad.cos() - 0.832_05).abs() < 5e-6);
    assert!((shift - Vec2::new(-0.8, 0.4)).hypot() < 1e-9);
    assert!((found.residual_rms.powi(2) - 0.533_333).abs() < 5e-7);
    // What a routine that mirrors would have found.
    assert!(found.mirrored_residual_rms < 1e-12);
}

/// DERIVED: a block of 10 × 16 mm turned by 3°, 5 % larger.
#[test]
fn a_known_similarity_is_found_back() {
    let from = points(&[(0.0, 0.0), (10.0, 0.0), (10.0, 16.0), (0.0, 16.0)]);
    let known = Similarity {
        scale: 1.05,
        rotation_rad: 3f64.to_radians(),
        shift: Vec2::new(2.0, -1.0),
    };
    let mut to: Vec<Point> = from.iter().map(|&p| known.map(p)).collect();
    let check = |to: &[Point], residual: f64| {
        let found = register(&from, to, Scale::Free).unwrap();
        assert!((found.transform.scale - 1.05).abs() < 1e-9);
        assert!((found.transform.rotation_rad.to_degrees() - 3.0).abs() < 1e-9);
        assert!((found.transform.shift - known.shift).hypot() < 1e-9);
        assert!((found.residual_rms - residual).abs() < 1e-9);
    };
    check(&to, 0.0);
    let back = known.inverse();
    assert!(
        from.iter()
            .all(|&p| back.map(known.map(p)).distance(p) < 1e-12)
    );
    // This pattern is orthogonal to all four parameters.
    for (p, by) in to.iter_mut().zip([0.1, -0.1, 0.1, -0.1]) {
        p.x += by;
    }
    check(&to, 0.1);
}

/// The formula (DERIVED) and a simulation of our own, 20,000 times.
#[test]
fn the_error_at_a_target_is_predicted() {
    let marks = points(&[(0.0, 0.0), (10.0, 0.0), (10.0, 16.0), (0.0, 16.0)]);
    let (sd, draws) = (0.05, 20_000);
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
    for scale in [Scale::Free, Scale::Fixed(1.0)] {
        let targets = points(&[(5.0, 8.0), (5.0, 16.0), (5.0, -4.0), (5.0, 24.0)]);
        let mut squares = vec![0.0; targets.len()];
        let mut residual = 0.0;
        for _ in 0..draws {
            let off = |p: &Point| Point::new(p.x + sd * noise(), p.y + sd * noise());
            let to: Vec<Point> = marks.iter().map(off).collect();
            let found = register(&marks, &to, scale).unwrap();
            residual += found.residual_rms.powi(2);
            for (sum, t) in squares.iter_mut().zip(&targets) {
                *sum += found.transform.map(*t).distance_squared(*t);
            }
        }
        let rms = |sum: f64| (sum / f64::from(draws)).sqrt();
        for (sum, &target) in squares.iter().zip(&targets) {
            let predicted = target_error_rms(&marks, target, sd, scale);
            assert!((rms(*sum) / predicted - 1.0).abs() < 0.02, "{target:?}");
        }
        let expected = expected_residual_rms(4, sd, scale);
        assert!((rms(residual) / expected - 1.0).abs() < 0.02);
    }
    for (y, expected) in [
        (8.0, 0.03536),
        (16.0, 0.04636),
        (-4.0, 0.05721),
        (24.0, 0.06961),
    ] {
        let found = target_error_rms(&marks, Point::new(5.0, y), sd, Scale::Free);
        assert!((found - expected).abs() < 5e-6);
    }
    assert!((expected_residual_rms(4, sd, Scale::Free) - 0.05).abs() < 1e-12);
}

#[test]
fn too_few_marks_and_marks_in_a_line_are_refused() {
    let two = points(&[(0.0, 0.0), (1.0, 0.0)]);
    assert_eq!(
        register(&two, &two, Scale::Free),
        Err(RegistrationError::TooFewMarks { given: 2 })
    );
    let line = points(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.01), (3.0, 3.0)]);
    assert_eq!(
        register(&line, &line, Scale::Free),
        Err(RegistrationError::InLine)
    );
    let same = points(&[(1.0, 1.0); 3]);
    assert_eq!(
        register(&same, &same, Scale::Free),
        Err(RegistrationError::InLine)
    );
}
