//! The least-squares fit: it finds paths again, its uncertainty is that of the
//! residuals, it does not depend on the frame.

use kurbo::{Affine, Point, Vec2};
use lengthfilm::geometry::{
    FitError, FitOptions, GeometryError, PathFit, Piece, StraightArcPath, Structure, fit_path,
};
use nalgebra::DMatrix;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::{close, motions, same_place};
use crate::support::pieces::{arc, straight};

const SD_MM: f64 = 0.03;

fn path(pieces: &[Piece]) -> StraightArcPath {
    StraightArcPath::new(Point::new(6.0, 3.0), 1.3, pieces).unwrap()
}

fn points_of(path: &StraightArcPath, count: usize) -> Vec<Point> {
    (0..count)
        .map(|i| path.point_at_length(path.length() * i as f64 / (count - 1) as f64))
        .collect()
}

fn noisy(path: &StraightArcPath, count: usize, seed: u64) -> Vec<Point> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut deviate = || SD_MM * rng.sample::<f64, _>(StandardNormal);
    points_of(path, count)
        .into_iter()
        .map(|p| p + Vec2::new(deviate(), deviate()))
        .collect()
}

fn fitted(points: &[Point]) -> PathFit {
    fit_path(points, &FitOptions::new(SD_MM)).unwrap()
}

fn shapes() -> [(&'static str, StraightArcPath); 5] {
    [
        ("SAS", path(&[straight(8.0), arc(6.0, 40.0), straight(3.0)])),
        ("SA", path(&[straight(9.0), arc(5.0, 50.0)])),
        ("A", path(&[arc(12.0, 60.0)])),
        (
            "SASAS",
            path(&[
                straight(6.0),
                arc(6.0, 35.0),
                straight(2.0),
                arc(5.0, -40.0),
                straight(2.0),
            ]),
        ),
        ("S", path(&[straight(12.0)])),
    ]
}

/// Without noise the path comes back: its structure, turns, ends and length.
#[test]
fn noise_free_paths_are_found_again() {
    for (structure, truth) in shapes() {
        let fit = fitted(&points_of(&truth, 61));
        assert_eq!(fit.structure().to_string(), structure);
        assert!(
            fit.chi_square() < 1e-6,
            "{structure}: χ² {}",
            fit.chi_square()
        );
        same_place(fit.path().start(), truth.start(), 1e-5);
        same_place(fit.path().end(), truth.end(), 1e-5);
        close(fit.path().length(), truth.length(), 1e-5);
        for (found, given) in fit.path().pieces().iter().zip(truth.pieces()) {
            close(found.turn_rad(), given.turn_rad(), 1e-4);
            close(found.length(), given.length(), 1e-3);
        }
    }
}

/// Residuals of the model in words: both coordinates at the two ends, the
/// distance to the path between them.
fn residuals(structure: &Structure, parameters: &[f64], points: &[Point]) -> Vec<f64> {
    let mut rest = parameters[3..].iter();
    let mut next = || *rest.next().unwrap();
    let pieces: Vec<Piece> = structure
        .to_string()
        .chars()
        .map(|kind| match kind {
            'S' => Piece::Straight { length: next() },
            _ => Piece::Arc {
                length: next(),
                turn_rad: next(),
            },
        })
        .collect();
    let start = Point::new(parameters[0], parameters[1]);
    let path = StraightArcPath::new(start, parameters[2], &pieces).unwrap();
    let (first, last) = (
        points[0] - path.start(),
        points[points.len() - 1] - path.end(),
    );
    let mut all = vec![first.x, first.y, last.x, last.y];
    all.extend(
        points[1..points.len() - 1]
            .iter()
            .map(|&p| path.project(p).offset),
    );
    all
}

/// σ² (JᵀJ)⁻¹ with J by central differences of the residuals, and Jᵀr = 0 at
/// the least: derivatives and convergence in one.
#[test]
fn covariance_and_gradient_are_those_of_the_residuals() {
    const STEP: f64 = 1e-5;
    for (name, truth) in shapes() {
        let points = noisy(&truth, 41, 7);
        let fit = fitted(&points);
        let (at, structure) = (fit.parameters().to_vec(), fit.structure().clone());
        let here = residuals(&structure, &at, &points);
        let jacobian = DMatrix::from_fn(here.len(), at.len(), |_, _| 0.0);
        let jacobian = (0..at.len()).fold(jacobian, |mut jacobian, j| {
            let moved = |by: f64| {
                let mut moved = at.clone();
                moved[j] += by;
                residuals(&structure, &moved, &points)
            };
            let (ahead, behind) = (moved(STEP), moved(-STEP));
            for i in 0..here.len() {
                jacobian[(i, j)] = (ahead[i] - behind[i]) / (2.0 * STEP);
            }
            jacobian
        });
        let sum: f64 = here.iter().map(|r| r * r).sum::<f64>() / (SD_MM * SD_MM);
        close(sum, fit.chi_square(), 1e-6 * (1.0 + sum));
        let gradient = jacobian.transpose() * DMatrix::from_column_slice(here.len(), 1, &here);
        let normal = jacobian.transpose() * &jacobian;
        for j in 0..at.len() {
            // Against the gradient a shift of one standard deviation makes.
            let scale = SD_MM * normal[(j, j)].sqrt();
            close(gradient[(j, 0)] / scale, 0.0, 1e-3);
        }
        let covariance = normal.try_inverse().unwrap() * (SD_MM * SD_MM);
        for i in 0..at.len() {
            for j in 0..at.len() {
                let scale = (covariance[(i, i)] * covariance[(j, j)]).sqrt();
                let found = fit.covariance(i, j).unwrap();
                let apart = (found - covariance[(i, j)]).abs() / scale;
                assert!(
                    apart < 0.02,
                    "{name} ({i}, {j}): {found}, {}",
                    covariance[(i, j)]
                );
            }
        }
        assert_eq!(fit.covariance(at.len(), 0), None);
    }
}

/// Turned, shifted and mirrored, the same path at the same χ².
#[test]
fn the_fit_does_not_depend_on_the_frame() {
    for (name, truth) in shapes() {
        for seed in 0..4 {
            let points = noisy(&truth, 12, seed);
            let here = fitted(&points);
            for (motion, side) in motions().into_iter().zip([1.0, -1.0]) {
                let moved: Vec<_> = points.iter().map(|&p| motion * p).collect();
                let there = fitted(&moved);
                assert_eq!(there.structure(), here.structure(), "{name}, seed {seed}");
                close(
                    there.chi_square(),
                    here.chi_square(),
                    1e-4 * (1.0 + here.chi_square()),
                );
                close(there.path().turn_rad(), side * here.path().turn_rad(), 1e-4);
                same_place(there.path().end(), motion * here.path().end(), 1e-4);
            }
            let scale = Affine::scale(40.0);
            let larger: Vec<_> = points.iter().map(|&p| scale * p).collect();
            let larger = fit_path(&larger, &FitOptions::new(40.0 * SD_MM)).unwrap();
            assert_eq!(larger.structure(), here.structure(), "{name}, seed {seed}");
            close(larger.path().turn_rad(), here.path().turn_rad(), 1e-4);
        }
    }
}

/// Walked from the other end: the structure backwards, the turns reversed. (Of
/// straight pieces and arcs: smooth bends may rise up to the apex alone.)
#[test]
fn the_fit_does_not_depend_on_the_direction() {
    for (name, truth) in shapes() {
        for seed in 0..4 {
            let mut points = noisy(&truth, 12, seed);
            let here = fitted(&points);
            points.reverse();
            let back = fitted(&points);
            let reversed: String = back.structure().to_string().chars().rev().collect();
            assert_eq!(
                reversed,
                here.structure().to_string(),
                "{name}, seed {seed}"
            );
            close(
                back.chi_square(),
                here.chi_square(),
                1e-3 * (1.0 + here.chi_square()),
            );
            close(
                back.straight_arc().turn_rad(),
                -here.straight_arc().turn_rad(),
                1e-3,
            );
        }
    }
}

/// No length of a piece is below zero, and no competitor has a lower value of
/// the criterion than the winner.
#[test]
fn lengths_are_none_below_zero_and_the_least_criterion_wins() {
    for (name, truth) in shapes() {
        for (count, seed) in [(4, 1), (5, 2), (7, 3), (9, 4), (14, 5)] {
            let fit = fitted(&noisy(&truth, count, seed));
            assert!(
                fit.path().pieces().iter().all(|p| p.length() >= 0.0),
                "{name}"
            );
            assert!(fit.chi_square() >= 0.0);
            let candidates = fit.candidates();
            let least = candidates[0].criterion;
            assert!(candidates.iter().all(|c| c.criterion >= least));
            assert_eq!(candidates[0].chi_square, fit.chi_square());
        }
    }
}

/// Where every structure fits a straight row of points alike, the simplest
/// wins; and the same points give the same fit to the last bit.
#[test]
fn ties_go_to_the_simplest_and_repeat() {
    let points = points_of(&path(&[straight(10.0)]), 9);
    let fit = fitted(&points);
    assert_eq!(fit.structure().to_string(), "S");
    assert!(fit.net_turn_sd_rad().unwrap() > 0.0);
    let noisy = noisy(&path(&[straight(7.0), arc(8.0, 35.0)]), 10, 11);
    assert_eq!(fitted(&noisy).parameters(), fitted(&noisy).parameters());
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    let points = points_of(&path(&[straight(10.0)]), 3);
    let error = fit_path(&points, &FitOptions::new(SD_MM)).unwrap_err();
    let few = GeometryError::TooFewPoints {
        needed: 4,
        given: 3,
    };
    assert_eq!(error, FitError::Points(few));
    let points = points_of(&path(&[straight(10.0)]), 6);
    for given in [0.0, -1.0, f64::INFINITY] {
        let error = fit_path(&points, &FitOptions::new(given)).unwrap_err();
        assert_eq!(error, FitError::PointSd { given });
    }
    assert!(fit_path(&points, &FitOptions::new(f64::NAN)).is_err());
}

/// Points give a residual across the path each, both ends one along it as well;
/// a straight line has four parameters, each arc and each further stretch its
/// own.
#[test]
fn degrees_of_freedom_are_residuals_less_parameters() {
    for (name, truth) in shapes() {
        let fit = fitted(&points_of(&truth, 15));
        let parameters = fit.parameters().len();
        assert_eq!(fit.degrees_of_freedom(), 15 + 2 - parameters, "{name}");
    }
}

/// Shares of forms are a distribution, the likeliest kind leads, and a bend
/// without any arc in it is told from one made of an arc.
#[test]
fn shares_add_up_and_the_likelier_kind_leads() {
    let arc_like = path(&[straight(6.0), arc(4.0, 60.0), straight(5.0)]);
    // Curvature that rises evenly all along: Fresnel's integrals by steps.
    let spiral: Vec<Point> = {
        let (mut at, mut heading, steps) = (Point::new(2.0, 2.0), 0.4_f64, 24_000);
        let mut found = vec![at];
        for k in 0..steps {
            let s = 14.0 * (f64::from(k) + 0.5) / f64::from(steps);
            heading += 14.0 / f64::from(steps) * s / 90.0;
            at += 14.0 / f64::from(steps) * Vec2::new(heading.cos(), heading.sin());
            if (k + 1) % 1000 == 0 {
                found.push(at);
            }
        }
        found
    };
    let fits = [fitted(&noisy(&arc_like, 25, 3)), fitted(&spiral)];
    for fit in &fits {
        let sum: f64 = fit.forms().iter().map(|form| form.share).sum();
        close(sum, 1.0, 1e-12);
        assert!(
            (0.0..=1.0).contains(&fit.smooth_share()),
            "{}",
            fit.smooth_share()
        );
        assert_eq!(fit.is_smooth(), fit.smooth_share() > 0.5);
    }
    let [arc_fit, spiral_fit] = fits;
    assert!(arc_fit.smooth_share() < 0.5, "{}", arc_fit.smooth_share());
    assert!(
        spiral_fit.smooth_share() > 0.5,
        "{}",
        spiral_fit.smooth_share()
    );
}

/// A share of nothing takes the leading form, one of all the last.
#[test]
fn a_share_falls_on_its_form() {
    let truth = path(&[straight(7.0), arc(7.0, 45.0), straight(3.0)]);
    let fit = fitted(&noisy(&truth, 16, 9));
    assert!(fit.forms().len() > 1);
    let mut none = || 0.0;
    for (share, form) in [
        (1e-9, fit.forms().first().unwrap()),
        (1.0 - 1e-9, fit.forms().last().unwrap()),
    ] {
        // Nothing shaken: the form's own path again.
        let drawn = fit.drawn_path(share, &mut none).unwrap();
        close(drawn.turn_rad(), form.path.turn_rad(), 0.02);
        close(drawn.length(), form.path.length(), 0.02);
    }
}
