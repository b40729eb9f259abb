//! A ball's size from points on its rim.

use kurbo::{Point, Vec2};

/// Rims flatter than this (share of their extent, squared) count as a line.
const FLATTEST_RIM: f64 = 1e-9;

/// Radius of the circle nearest to three or more points in the algebraic
/// least-squares sense (x² + y² = 2ax + 2by + c), in the points' unit.
/// `None` for points on a line.
pub fn circle_radius(rim: &[Point]) -> Option<f64> {
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
    radius.is_finite().then_some(radius)
}

#[cfg(test)]
mod tests {
    use super::circle_radius;
    use kurbo::Point;

    /// Circumradius of a 3-4-5 triangle is 2.5, of an equilateral one with
    /// side 6 is 3.4641 (REFERENCES 1.2, DERIVED).
    #[test]
    fn circumradius_of_three_points() {
        let right = [(0.0, 0.0), (3.0, 0.0), (0.0, 4.0)].map(Point::from);
        assert!((circle_radius(&right).unwrap() - 2.5).abs() < 1e-12);
        let height = 27.0_f64.sqrt();
        let even = [(100.0, 50.0), (106.0, 50.0), (103.0, 50.0 + height)].map(Point::from);
        assert!((circle_radius(&even).unwrap() - 3.4641).abs() < 5e-5);
    }

    #[test]
    fn points_on_a_line_have_no_circle() {
        let line = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)].map(Point::from);
        assert_eq!(circle_radius(&line), None);
        assert_eq!(circle_radius(&line[..2]), None);
    }
}
