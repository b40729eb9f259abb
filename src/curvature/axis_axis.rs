//! Axis–axis angle (long-axis method).
//!
//! After Hankins PJ, ElDeeb ME. J Endod 1996;22:123–30. The exact construction
//! is remembered only (MEM-L), so the name is our own label: the angle between
//! the least-squares axes of the straight coronal piece and of the apical
//! segment.
//!
//! The apical segment is the straight piece apical of the curve; where that
//! is shorter than half the curve, it is filled up from the curve to that
//! length. So a curve that ends at the apex has the axis of its apical half,
//! and nothing jumps when a short straight end comes or goes.

use kurbo::{Point, Vec2};

use super::curve_by_curve::Curve;
use super::measured::{Measured, angle_between_rad};
use crate::geometry::StraightArcPath;

/// Angle between the two axes, both pointing apically, rad in [0, π].
///
/// # Errors
/// [`super::Missing::LandmarksCoincide`] when an axis has no direction.
pub fn angle_rad(coronal_axis: Vec2, apical_axis: Vec2) -> Measured {
    angle_between_rad(coronal_axis, apical_axis)
}

/// Least-squares axis of the apical segment behind `curve`, pointing apically.
pub fn apical_axis(path: &StraightArcPath, curve: &Curve) -> Vec2 {
    let half = 0.5 * (curve.start_from_apex - curve.end_from_apex);
    let tail = curve.end_from_apex;
    if tail >= half {
        return path.pose_at_length(path.length()).direction;
    }
    let joint = path.length() - tail;
    least_squares_axis(path, [path.length() - half, joint, path.length()])
}

/// Principal direction of the path over two adjoining stretches, each of
/// constant curvature, by quadrature along its length.
fn least_squares_axis(path: &StraightArcPath, [from, joint, to]: [f64; 3]) -> Vec2 {
    // Gauss–Legendre, four nodes: exact to the seventh power of the length.
    const NODES: [(f64, f64); 4] = [
        (-0.861_136_311_594_052_6, 0.347_854_845_137_453_9),
        (-0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
        (0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
        (0.861_136_311_594_052_6, 0.347_854_845_137_453_9),
    ];
    let stretches = [(from, joint), (joint, to)];
    let nodes = stretches.iter().flat_map(|&(a, b)| {
        NODES.iter().map(move |&(x, weight)| {
            let at = 0.5 * (a + b) + 0.5 * (b - a) * x;
            (path.point_at_length(at), weight * 0.5 * (b - a))
        })
    });
    let (mut weights, mut sum, mut squares) = (0.0, Vec2::ZERO, [0.0; 3]);
    let origin = path.end();
    for (point, weight) in nodes {
        let v: Vec2 = point - origin;
        weights += weight;
        sum += v * weight;
        squares[0] += weight * v.x * v.x;
        squares[1] += weight * v.x * v.y;
        squares[2] += weight * v.y * v.y;
    }
    let mean = sum / weights;
    let xx = squares[0] / weights - mean.x * mean.x;
    let xy = squares[1] / weights - mean.x * mean.y;
    let yy = squares[2] / weights - mean.y * mean.y;
    let axis = Vec2::from_angle(0.5 * (2.0 * xy).atan2(xx - yy));
    let apically = origin - Point::new(origin.x + mean.x, origin.y + mean.y);
    if axis.dot(apically) < 0.0 {
        -axis
    } else {
        axis
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curvature::curve_by_curve::curves;
    use crate::geometry::Piece;

    /// The principal direction of many places evenly spread over the last
    /// stretch, for a bend with a short straight tail.
    #[test]
    fn the_axis_is_that_of_many_places() {
        let pieces = [
            Piece::Straight { length: 8.0 },
            Piece::Arc {
                length: 5.0,
                turn_rad: 0.9,
            },
            Piece::Straight { length: 1.0 },
        ];
        let path = StraightArcPath::new(Point::new(3.0, -2.0), 0.7, &pieces).unwrap();
        let curve = curves(&path)[0];
        assert!((curve.start_from_apex - 6.0).abs() < 1e-12);
        let count = 100_000;
        let places: Vec<Vec2> = (0..count)
            .map(|k| 14.0 - 2.5 * (f64::from(k) + 0.5) / f64::from(count))
            .map(|s| path.point_at_length(s).to_vec2())
            .collect();
        let mean = places.iter().copied().sum::<Vec2>() / f64::from(count);
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for place in &places {
            let v = *place - mean;
            xx += v.x * v.x;
            xy += v.x * v.y;
            yy += v.y * v.y;
        }
        let expected = Vec2::from_angle(0.5 * (2.0 * xy).atan2(xx - yy));
        let found = apical_axis(&path, &curve);
        assert!(found.cross(expected).abs() < 1e-6, "{found} {expected}");
        assert!(found.dot(path.pose_at_length(14.0).direction) > 0.0);
    }
}
