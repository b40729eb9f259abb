//! A ball's size from points on its rim.

use kurbo::Point;
use nalgebra::{Matrix3, Vector3};

/// Radius of the circle nearest to three or more points in the algebraic
/// least-squares sense (x² + y² = 2ax + 2by + c), in the points' unit.
/// `None` for points on a line.
pub fn circle_radius(rim: &[Point]) -> Option<f64> {
    if rim.len() < 3 {
        return None;
    }
    // About the centroid, so that the normal equations are well conditioned.
    let n = rim.len() as f64;
    let centroid = rim.iter().map(|p| p.to_vec2()).sum::<kurbo::Vec2>() / n;
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for point in rim {
        let p = *point - centroid;
        let row = Vector3::new(2.0 * p.x, 2.0 * p.y, 1.0);
        normal += row * row.transpose();
        right += row * p.to_vec2().hypot2();
    }
    let solution = normal.cholesky()?.solve(&right);
    let squared = solution.z + solution.x.powi(2) + solution.y.powi(2);
    (squared.is_finite() && squared > 0.0).then(|| squared.sqrt())
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
