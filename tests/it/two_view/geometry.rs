//! Closed forms of two projections (DERIVED: plane trigonometry), and what is
//! published of them: the true angle of a long bone's deformity from two films
//! at right angles (textbook geometry, credited to Paley, SEEN).

use lengthfilm::two_view::Receptor;
use lengthfilm::two_view::geometry::{
    View, angle_between, depth_between, height_above_film_mm, place_of, tilt_of, tilt_of_stayed,
};
use lengthfilm::two_view::path::{Piece, Pose, SpacePath};
use lengthfilm::two_view::shared_object::scales_of_straight_object;
use nalgebra::{Vector2, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const SOD: f64 = 300.0;
const M: f64 = 315.0 / 300.0;

/// Depth counts away from the source in the table, towards it here: the point
/// (2, −3, 10) is (2, 3, 10), and its angles change sign.
fn table_point() -> Vector3<f64> {
    Vector3::new(2.0, 3.0, 10.0)
}

fn cone_beam(table_angle_deg: f64) -> View {
    View::new(-table_angle_deg.to_radians(), Receptor::Turned, Some(SOD))
}

/// Where rays meet a detector that leans away from the source below, in closed
/// form: the ray to (x, y) of the upright one meets the leaning one `along` mm
/// below the foot of the central ray (DERIVED).
#[test]
fn a_tilted_detector() {
    let tilt = 4f64.to_radians();
    let centre = Vector2::new(1.5, -6.0);
    let view = View::new(0.0, Receptor::Turned, Some(SOD)).with_centre(centre);
    for upright in [Vector2::new(2.0, 10.0), Vector2::new(-3.0, -4.0)] {
        let from_foot = upright + centre;
        let along = SOD * from_foot.y / (SOD * tilt.cos() - from_foot.y * tilt.sin());
        let behind = along * tilt.sin();
        let across = from_foot.x * (SOD + behind) / SOD;
        let found = view.on_tilted_detector(upright, tilt) + centre;
        assert!((found - Vector2::new(across, along)).norm() < 1e-12);
        // The same height in space.
        let height = from_foot.y * (SOD + behind) / SOD;
        assert!((height - along * tilt.cos()).abs() < 1e-12);
    }
    assert_eq!(
        view.on_tilted_detector(Vector2::new(2.0, 10.0), 0.0),
        Vector2::new(2.0, 10.0)
    );
}

/// Cone beam, SOD 300, SID 315 (DERIVED).
#[test]
fn a_point_in_a_cone_beam() {
    for (angle, u, v) in [
        (0.0, 2.12121, 10.60606),
        (20.0, 0.90658, 10.62406),
        (30.0, 0.24661, 10.62746),
        (90.0, -3.17114, 10.57047),
    ] {
        let shadow = cone_beam(angle).shadow(&table_point()) * M;
        assert!((shadow.x - u).abs() < 5e-6, "{angle}: {shadow}");
        assert!((shadow.y - v).abs() < 5e-6, "{angle}: {shadow}");
    }
}

/// The linear solve returns the point; parallel rays with M = 1.05 give the
/// tabulated errors (DERIVED).
#[test]
fn a_point_back_from_its_shadows() {
    for (angle, y, z_b) in [(90.0, 3.0201, 10.0671), (20.0, 3.0260, 10.1182)] {
        let views = [cone_beam(0.0), cone_beam(angle)];
        let shadows = views.map(|view| view.shadow(&table_point()));
        let place = place_of([&views[0], &views[1]], shadows).unwrap();
        assert!((place - table_point()).norm() < 1e-9, "{angle}: {place}");
        let parallel = [0.0f64, angle].map(|a| View::new(-a.to_radians(), Receptor::Turned, None));
        let place = place_of([&parallel[0], &parallel[1]], shadows).unwrap();
        assert!((place.x - 2.0202).abs() < 5e-5);
        assert!((place.y - y).abs() < 5e-5, "{angle}: {place}");
        assert!((shadows[0].y - 10.1010).abs() < 5e-5 && (shadows[1].y - z_b).abs() < 5e-5);
        assert!((place.z - 0.5 * (10.1010 + z_b)).abs() < 1e-4);
    }
}

/// Every view, receptor turned or stayed, off the centre and not: shadows give
/// the place back, and the derivative is that of the shadow.
#[test]
fn shadows_give_the_place_back() {
    let place = Vector3::new(1.3, -2.4, 7.0);
    for receptor in [Receptor::Turned, Receptor::Stayed] {
        for source in [None, Some(250.0)] {
            let centre = Vector2::new(3.0, -4.0);
            let [a, b] =
                [0.0, 0.4].map(|angle| View::new(angle, receptor, source).with_centre(centre));
            let found = place_of([&a, &b], [a.shadow(&place), b.shadow(&place)]).unwrap();
            assert!((found - place).norm() < 1e-9, "{receptor:?}: {found}");
            let step = Vector3::new(0.3, 0.5, -0.2);
            let quotient = (b.shadow(&(place + step * 1e-6)) - b.shadow(&place)) / 1e-6;
            assert!((quotient - b.shadow_step(&place, &step)).norm() < 1e-6);
            // Where it must show on film B: on the line between two depths.
            let [near, far] = a.same_place_in(&b, a.shadow(&place), [-5.0, 5.0]).unwrap();
            let along = (far - near).normalize();
            let off = (b.shadow(&place) - near).perp(&along);
            assert!(off.abs() < 1e-3, "{receptor:?}: {off} mm beside the line");
        }
    }
}

/// Parallel rays assumed for a cone beam: heights differ by about z·δ/SOD;
/// 0.250, 0.167, 0.125 mm for z 10, δ 5 (DERIVED).
#[test]
fn the_mismatch_that_parallel_rays_leave() {
    for (sod, expected) in [(200.0, 0.250), (300.0, 0.167), (400.0, 0.125)] {
        let view = View::new(0.0, Receptor::Turned, Some(sod));
        let height = |depth: f64| view.shadow(&Vector3::new(0.0, depth, 10.0)).y;
        let found = height(2.5) - height(-2.5);
        assert!((found - expected).abs() < 0.002, "{sod}: {found}");
    }
}

/// One straight object of 20 mm, tilts 6° and 8°, true scales 0.035 and 0.036
/// mm/px; each film alone is 0.972 and 0.540 % off (DERIVED).
#[test]
fn one_straight_object_calibrates_both_films() {
    let shadows = [Vector2::new(59.156, 562.827), Vector2::new(76.903, 547.193)];
    let right = std::f64::consts::FRAC_PI_2;
    let [a, b] = scales_of_straight_object(20.0, shadows, right);
    assert!(
        (a - 0.035).abs() < 5e-7 && (b - 0.036).abs() < 5e-7,
        "{a} {b}"
    );
    let alone = shadows.map(|s| 20.0 / s.norm());
    assert!((100.0 * (alone[0] / a - 1.0) - 0.972).abs() < 0.001);
    assert!((100.0 * (alone[1] / b - 1.0) - 0.540).abs() < 0.001);
}

/// The same at any angle, here 40°: an object of known lean seen on both.
#[test]
fn a_straight_object_calibrates_films_at_any_angle() {
    let between = 40f64.to_radians();
    let lean = Vector3::new(0.11, -0.14, 1.0).normalize() * 20.0;
    let views = [0.0, between].map(|angle| View::new(angle, Receptor::Turned, None));
    let scales = [0.035, 0.036];
    let shadows = [0, 1].map(|f: usize| views[f].shadow(&lean) / scales[f]);
    let found = scales_of_straight_object(20.0, shadows, between);
    for (found, scale) in found.into_iter().zip(scales) {
        assert!((found / scale - 1.0).abs() < 1e-12, "{found} {scale}");
    }
}

/// Tilts of one segment (DERIVED; the rows at 90° are the published formula).
#[test]
fn the_true_tilt_of_a_segment() {
    for (a, b, between, tilt, azimuth) in [
        (20.0, 15.0, 90.0, 24.321, 36.36),
        (30.0, 30.0, 90.0, 39.232, 45.00),
        (10.0, 25.0, 90.0, 26.498, 69.29),
        (19.0, 14.0, 90.0, 23.031, 35.91),
        (30.0, 0.0, 90.0, 30.000, 0.0),
        (20.0, 22.0, 20.0, 22.128, 26.48),
        (20.0, 15.0, 20.0, 22.954, -30.75),
        (20.0, 15.0, 30.0, 20.608, -14.56),
        (10.0, 20.0, 30.0, 24.601, 67.35),
        (25.0, 25.0, 40.0, 26.392, 20.00),
    ] {
        let (found, at) = tilt_of([a, b].map(f64::to_radians), f64::to_radians(between));
        assert!(
            (found.to_degrees() - tilt).abs() < 6e-4,
            "{a} {b} {between}: {found}"
        );
        assert!(
            (at.to_degrees() - azimuth).abs() < 6e-3,
            "{a} {b} {between}: {at}"
        );
    }
    let (found, at) = tilt_of_stayed([20.0, 22.0].map(f64::to_radians), 20f64.to_radians());
    assert!((found.to_degrees() - 20.819).abs() < 6e-4);
    assert!((at.to_degrees() - 16.82).abs() < 6e-3);
}

/// Bends from vectors, films at right angles, beside the formula on the bends
/// of each film, which holds only for an upright coronal piece (DERIVED).
#[test]
fn a_bend_from_vectors() {
    for (coronal, apical, bend, formula) in [
        ([0.0, 0.0], [20.0, 15.0], 24.3212, 24.3212),
        ([5.0, -3.0], [25.0, 12.0], 24.2713, 24.3212),
        ([10.0, 10.0], [40.0, 25.0], 30.5616, 32.4767),
        ([-8.0, 6.0], [12.0, -14.0], 27.9322, 27.2363),
        ([15.0, 0.0], [-15.0, 0.0], 30.0, 30.0),
    ] {
        let direction = |tilts: [f64; 2]| {
            let [x, y] = tilts.map(|t: f64| t.to_radians().tan());
            Vector3::new(x, y, 1.0).normalize()
        };
        let found = angle_between(&direction(coronal), &direction(apical)).to_degrees();
        assert!((found - bend).abs() < 5e-5, "{coronal:?}: {found}");
        let on_films = [0, 1].map(|f: usize| f64::to_radians(apical[f] - coronal[f]));
        let (tilt, _) = tilt_of(on_films, std::f64::consts::FRAC_PI_2);
        assert!(
            (tilt.to_degrees() - formula).abs() < 5e-5,
            "{coronal:?}: {tilt}"
        );
    }
}

/// Depth's standard deviation against the angle, film A as reference and both
/// turned by half of it, and what a degree of angle does at y = 3 (DERIVED).
#[test]
fn what_a_small_angle_costs() {
    for (between, symmetric, reference, per_degree) in [
        (10.0, 8.113, 8.083, 0.297),
        (15.0, 5.417, 5.372, 0.195),
        (20.0, 4.072, 4.012, 0.144),
        (25.0, 3.267, 3.193, 0.112),
        (30.0, 2.732, 2.646, 0.091),
        (40.0, 2.067, 1.960, 0.062),
        (60.0, 1.414, 1.291, 0.030),
        (90.0, 1.000, 1.000, 0.000),
    ] {
        let sd_of_depth = |from: f64, to: f64| {
            let [a, b] = [from, to].map(|angle| View::new(angle, Receptor::Turned, None));
            let depth = |ua: f64, ub: f64| {
                let shadows = [Vector2::new(ua, 0.0), Vector2::new(ub, 0.0)];
                place_of([&a, &b], shadows).unwrap()
            };
            // In the frame half way between both films, or of film A.
            let middle = 0.5 * (from + to);
            let along = |p: Vector3<f64>| p.y * middle.cos() - p.x * middle.sin();
            along(depth(1.0, 0.0)).hypot(along(depth(0.0, 1.0)))
        };
        let angle = f64::to_radians(between);
        let found = sd_of_depth(-0.5 * angle, 0.5 * angle);
        assert!((found - symmetric).abs() < 6e-4, "{between}: {found}");
        let a = View::new(0.0, Receptor::Turned, None);
        let b = View::new(angle, Receptor::Turned, None);
        let of = |ua, ub| {
            let shadows = [Vector2::new(ua, 0.0), Vector2::new(ub, 0.0)];
            place_of([&a, &b], shadows).unwrap().y
        };
        let found = f64::hypot(of(1.0, 0.0), of(0.0, 1.0));
        assert!((found - reference).abs() < 6e-4, "{between}: {found}");
        let place = Vector3::new(0.0, 3.0, 0.0);
        let wrong = View::new(angle + 1f64.to_radians(), Receptor::Turned, None);
        let step = 1e-6;
        let near = View::new(angle + step, Receptor::Turned, None);
        let seen = [a.shadow(&place), near.shadow(&place)];
        let change = (place_of([&a, &b], seen).unwrap().y - 3.0) / step;
        let found = (change * 1f64.to_radians()).abs();
        assert!((found - per_degree).abs() < 6e-4, "{between}: {found}");
        assert!(wrong.shadow(&place).x.is_finite());
    }
}

/// The same by the linear law: the derivatives of the bend by both angles
/// (DERIVED).
#[test]
fn the_linear_noise_of_a_bend_in_space() {
    for (a, b, between, sd) in [
        (20.0, 15.0, 90.0, 1.846),
        (30.0, 30.0, 90.0, 1.600),
        (20.0, 22.0, 30.0, 1.774),
        (20.0, 22.0, 20.0, 2.680),
        (20.0, 15.0, 20.0, 5.128),
    ] {
        let bend = |a: f64, b: f64| {
            let tilts = [a, b].map(f64::to_radians);
            tilt_of(tilts, f64::to_radians(between)).0.to_degrees()
        };
        let step = 1e-4;
        let by_a = (bend(a + step, b) - bend(a - step, b)) / (2.0 * step);
        let by_b = (bend(a, b + step) - bend(a, b - step)) / (2.0 * step);
        let found = 2.0 * by_a.hypot(by_b);
        assert!((found - sd).abs() < 6e-4, "{a} {b} {between}: {found}");
    }
}

/// What films at right angles show of a planar arc turned by ψ out of film A
/// (DERIVED): directions at its end, Schneider's angle and the radius at both
/// ends on film A. That radius may be smaller than the true one.
#[test]
fn what_films_show_of_an_arc() {
    let right = std::f64::consts::FRAC_PI_2;
    let views = [0.0, right].map(|angle| View::new(angle, Receptor::Turned, None));
    for (radius, turn, plane, ends, schneider, shown) in [
        (8.0, 40.0, 0.0, [40.0, 0.0], 20.0, [8.0, 8.0]),
        (8.0, 40.0, 30.0, [36.005, 22.760], 17.495, [9.238, 7.844]),
        (8.0, 40.0, 45.0, [30.682, 30.682], 14.433, [11.314, 7.996]),
        (8.0, 40.0, 60.0, [22.760, 36.005], 10.314, [16.0, 9.173]),
        (8.0, 40.0, 90.0, [0.0, 40.0], 0.0, [f64::INFINITY; 2]),
        (5.0, 60.0, 30.0, [56.310, 40.893], 26.565, [5.774, 4.228]),
        (5.0, 60.0, 45.0, [50.768, 50.768], 22.208, [7.071, 3.494]),
        (5.0, 60.0, 60.0, [40.893, 56.310], 16.102, [10.0, 2.894]),
        (10.0, 25.0, 45.0, [18.249, 18.249], 8.909, [14.142, 12.291]),
    ] {
        let (turn, plane) = (f64::to_radians(turn), f64::to_radians(plane));
        let arc = Piece {
            length_mm: radius * turn,
            turn_rad: [turn * plane.cos(), turn * plane.sin()],
        };
        let path = SpacePath::new(Pose::new(Vector3::zeros(), [0.0; 2]), vec![arc]);
        let heading = |view: &View, along: f64| {
            let pose = path.at(along);
            view.shadow_step(&pose.place, &pose.direction)
        };
        for (view, end) in views.iter().zip(ends) {
            let at_end = heading(view, arc.length_mm);
            let found = at_end.x.atan2(at_end.y).to_degrees();
            assert!((found - end).abs() < 6e-4, "{found}, {end}");
        }
        let end = views[0].shadow(&path.end().place);
        let found = end.x.atan2(end.y).to_degrees();
        assert!((found - schneider).abs() < 6e-4, "{found}, {schneider}");
        for (at, expected) in [0.0, arc.length_mm].into_iter().zip(shown) {
            // Turn of the shadow over its way, about this place.
            let step = 1e-4;
            let [before, after] = [-step, step].map(|step| {
                let inside = (at + step).clamp(0.0, arc.length_mm);
                (inside, heading(&views[0], inside))
            });
            let turned = before.1.perp(&after.1).atan2(before.1.dot(&after.1)).abs();
            let way = (after.0 - before.0) * heading(&views[0], at).norm();
            let found = way / turned;
            let near = (1.0 / found - 1.0 / expected).abs() < 1e-4;
            assert!(near, "R {radius}, ψ {plane}: {found}, {expected}");
        }
    }
}

/// A bend from two films whose angles each have sd 2°: mean and spread of the
/// bend in space; of a straight canal too (DERIVED; Monte Carlo to 1 %).
#[test]
fn the_noise_of_a_bend_in_space() {
    let mut rng = ChaCha8Rng::seed_from_u64(90);
    for (a, b, between, sd, mean) in [
        (20.0, 15.0, 90.0, 1.845, 24.40),
        (30.0, 30.0, 90.0, 1.599, 39.29),
        (20.0, 22.0, 30.0, 1.91, 22.71),
        (20.0, 22.0, 20.0, 2.88, 23.47),
        (20.0, 15.0, 20.0, 4.60, 23.67),
        (0.0, 0.0, 90.0, 1.31, 2.51),
        (0.0, 0.0, 20.0, 4.61, 6.68),
    ] {
        let count = 200_000;
        let found: Vec<f64> = (0..count)
            .map(|_| {
                let mut off = || -> f64 { StandardNormal.sample(&mut rng) };
                let tilts = [a + 2.0 * off(), b + 2.0 * off()].map(f64::to_radians);
                tilt_of(tilts, f64::to_radians(between)).0.to_degrees()
            })
            .collect();
        let found_mean = found.iter().sum::<f64>() / f64::from(count);
        let squares: f64 = found.iter().map(|f| (f - found_mean).powi(2)).sum();
        let found_sd = (squares / f64::from(count)).sqrt();
        assert!(
            (found_mean / mean - 1.0).abs() < 0.01,
            "{a} {b} {between}: {found_mean}"
        );
        assert!(
            (found_sd / sd - 1.0).abs() < 0.015,
            "{a} {b} {between}: {found_sd}"
        );
    }
}

/// Tube shift: depth from how far two shadows part (DERIVED), and the classical
/// height above the film (MEM-H).
#[test]
fn the_tube_shift() {
    for (receptor, depth, between, parted) in [
        (Receptor::Stayed, 3.0, 20.0, 1.0919),
        (Receptor::Stayed, 2.0, 30.0, 1.1547),
        (Receptor::Stayed, 4.0, 20.0, 1.4559),
        (Receptor::Stayed, 1.5, 25.0, 0.6995),
        (Receptor::Turned, 3.0, 20.0, 1.0261),
        (Receptor::Turned, 2.0, 30.0, 1.0000),
    ] {
        let angles = [0.0, f64::to_radians(between)];
        let view = View::new(angles[1], receptor, None);
        let shown = view.shadow(&Vector3::new(0.0, depth, 0.0)).x;
        assert!(
            (shown - parted).abs() < 5e-5,
            "{receptor:?} {between}: {shown}"
        );
        assert!((depth_between(receptor, angles, shown) - depth).abs() < 1e-12);
    }
    for (focus, tube, shift, height) in [
        (300.0, 100.0, 5.0, 14.2857),
        (400.0, 100.0, 3.0, 11.6505),
        (300.0, 70.0, 2.0, 8.3333),
    ] {
        assert!((height_above_film_mm(focus, tube, shift) - height).abs() < 5e-5);
    }
}
