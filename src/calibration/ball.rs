//! A ball's size from points on its rim.

use std::f64::consts::TAU;

use kurbo::{Point, Vec2};
use nalgebra::{Matrix3, Vector3};

/// Rims flatter than this (share of their extent, squared) count as a line.
const FLATTEST_RIM: f64 = 1e-9;

/// Radius of the circle nearest to three or more points in the algebraic
/// least-squares sense (x² + y² = 2ax + 2by + c), in the points' unit.
/// `None` for points on a line.
pub fn circle_radius(rim: &[Point]) -> Option<f64> {
    circle(rim).map(|(_, radius)| radius)
}

/// Standard uncertainty of twice that radius when every coordinate of the
/// points has the standard uncertainty `u_click`, in the points' unit: from
/// the covariance of the geometric least-squares fit, rows (cos φ, sin φ, 1)
/// for centre and radius. Points spread evenly give 2σ/√n; an arc gives far
/// more. `None` for points on a line.
pub fn u_diameter(rim: &[Point], u_click: f64) -> Option<f64> {
    let (centre, _) = circle(rim)?;
    let normal: Matrix3<f64> = rim
        .iter()
        .map(|point| {
            let direction = (*point - centre).normalize();
            let row = Vector3::new(direction.x, direction.y, 1.0);
            row * row.transpose()
        })
        .sum();
    let variance = normal.try_inverse()?[(2, 2)];
    Some(2.0 * u_click * variance.sqrt()).filter(|u| u.is_finite())
}

/// Angle of the rim that the points span, rad: 2π less the widest gap between
/// neighbours. `None` for points on a line.
pub fn rim_span_rad(rim: &[Point]) -> Option<f64> {
    let (centre, _) = circle(rim)?;
    let mut angles: Vec<f64> = rim.iter().map(|point| (*point - centre).atan2()).collect();
    angles.sort_unstable_by(f64::total_cmp);
    let around = angles.first()? + TAU - angles.last()?;
    let gaps = angles.windows(2).map(|pair| pair[1] - pair[0]);
    Some(TAU - gaps.fold(around, f64::max))
}

fn circle(rim: &[Point]) -> Option<(Point, f64)> {
    if rim.len() < 3 {
        return None;
    }
    // About the centroid, where c is the mean of x² + y² and (a, b) solve a
    // 2 × 2 system of second and third moments.
    let n = rim.len() as f64;
    let centroid = rim.iter().map(|p| p.to_vec2()).sum::<Vec2>() / n;
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    let mut third = Vec2::ZERO;
    for point in rim {
        let p = point.to_vec2() - centroid;
        xx += p.x * p.x;
        xy += p.x * p.y;
        yy += p.y * p.y;
        third += p * p.hypot2();
    }
    let determinant = xx * yy - xy * xy;
    if determinant.is_nan() || determinant <= FLATTEST_RIM * (xx + yy).powi(2) {
        return None;
    }
    let centre =
        Vec2::new(yy * third.x - xy * third.y, xx * third.y - xy * third.x) / (2.0 * determinant);
    let radius = ((xx + yy) / n + centre.hypot2()).sqrt();
    radius
        .is_finite()
        .then_some((centroid.to_point() + centre, radius))
}

#[cfg(test)]
mod tests {
    use super::{circle_radius, rim_span_rad, u_diameter};
    use kurbo::Point;

    /// Circumradius of a 3-4-5 triangle is 2.5, of an equilateral one with
    /// side 6 is 3.4641 (DERIVED).
    #[test]
    fn circumradius_of_three_points() {
        let right = [(0.0, 0.0), (3.0, 0.0), (0.0, 4.0)].map(Point::from);
        assert!((circle_radius(&right).unwrap() - 2.5).abs() < 1e-12);
        let height = 27.0_f64.sqrt();
        let even = [(100.0, 50.0), (106.0, 50.0), (103.0, 50.0 + height)].map(Point::from);
        assert!((circle_radius(&even).unwrap() - 3.4641).abs() < 5e-5);
    }

    fn rim(degrees: &[f64]) -> Vec<Point> {
        let on_rim = |degree: &f64| {
            let (sin, cos) = degree.to_radians().sin_cos();
            Point::new(40.0 + 100.0 * cos, -7.0 + 100.0 * sin)
        };
        degrees.iter().map(on_rim).collect()
    }

    /// Closed forms (DERIVED): spread evenly, u(d) = 2σ/√n. Radial errors e₀ at
    /// 0 and e₁, e₂ at ±φ move the circle through all three by
    /// Δr = ((e₁ + e₂)/2 − e₀ cos φ)/(1 − cos φ), so that
    /// u²(r)/σ² = (1 + 2 cos² φ)/(2 (1 − cos φ)²).
    #[test]
    fn a_diameter_is_as_certain_as_its_arc_is_long() {
        let even = rim(&[0.0, 72.0, 144.0, 216.0, 288.0]);
        let u = u_diameter(&even, 2.0).unwrap();
        assert!((u - 4.0 / 5.0_f64.sqrt()).abs() < 1e-9, "{u}");
        for half_deg in [20.0_f64, 30.0, 60.0, 120.0] {
            let arc = rim(&[-half_deg, 0.0, half_deg]);
            let cos = half_deg.to_radians().cos();
            let variance = (1.0 + 2.0 * cos * cos) / (2.0 * (1.0 - cos).powi(2));
            let u = u_diameter(&arc, 2.0).unwrap();
            assert!(
                (u / (4.0 * variance.sqrt()) - 1.0).abs() < 1e-9,
                "{half_deg}: {u}"
            );
            let span = rim_span_rad(&arc).unwrap().to_degrees();
            assert!((span - (2.0 * half_deg).min(240.0)).abs() < 1e-9, "{span}");
        }
    }

    #[test]
    fn points_on_a_line_have_no_circle() {
        let line = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)].map(Point::from);
        assert_eq!(circle_radius(&line), None);
        assert_eq!(circle_radius(&line[..2]), None);
    }

    /// Points in line, in every direction, have no circle; a rim that is bent a
    /// little has its own.
    #[test]
    fn a_rim_in_line_has_no_radius() {
        for degrees in [0.0_f64, 30.0, 45.0, 90.0, 135.0] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let bent = |sagitta: f64| -> Vec<Point> {
                [
                    (-10.0, 0.0),
                    (-5.0, 0.75),
                    (0.0, 1.0),
                    (5.0, 0.75),
                    (10.0, 0.0),
                ]
                .map(|(x, y)| (x, y * sagitta))
                .map(|(x, y)| Point::new(cos * x - sin * y, sin * x + cos * y))
                .to_vec()
            };
            assert_eq!(circle_radius(&bent(0.0)), None, "{degrees}");
            assert_eq!(circle_radius(&bent(1e-6)), None, "{degrees}");
            // Sagitta formula, DERIVED: (10² + 1²) / 2.
            let radius = circle_radius(&bent(1.0)).unwrap();
            assert!((radius / 50.5 - 1.0).abs() < 0.02, "{degrees}: {radius}");
        }
        let lost = [(0.0, 0.0), (1.0, f64::NAN), (0.0, 2.0)].map(Point::from);
        assert_eq!(circle_radius(&lost), None);
    }
}
