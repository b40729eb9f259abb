//! What click noise adds to a length along a curve.
//!
//! Points that scatter about a line make the curve through them longer than
//! the line. The value shown has it taken off as far as the points show it
//! ([`super::bends::BendModel::lengthening_shown`]): points placed without noise
//! keep the length of their curve to the last digit. A draw stands for a canal
//! that may be and has the mean lengthening of its own noise taken off.

use kurbo::{Point, Vec2};

/// Mean lengthening of `size` by Gaussian noise of standard deviation
/// `sd_of(i)` per coordinate of the points, to second order: ½ Σ ∂²size/∂x² σ².
/// 0 where the size does not exist around the points.
pub fn lengthening(
    points: &[Point],
    sd_of: impl Fn(usize) -> f64,
    mut size: impl FnMut(&[Point]) -> Option<f64>,
) -> f64 {
    let mut moved = points.to_vec();
    let Some(middle) = size(points) else {
        return 0.0;
    };
    let mut sum = 0.0;
    for i in 0..points.len() {
        for way in [Vec2::new(sd_of(i), 0.0), Vec2::new(0.0, sd_of(i))] {
            let mut at = |point: Point| {
                moved[i] = point;
                size(&moved)
            };
            let (ahead, behind) = (at(points[i] + way), at(points[i] - way));
            moved[i] = points[i];
            let (Some(ahead), Some(behind)) = (ahead, behind) else {
                return 0.0;
            };
            sum += 0.5 * (ahead + behind - 2.0 * middle);
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::DrawnCurve;

    /// Closed form: a segment of length s whose ends scatter by σ per
    /// coordinate is σ²/s longer on average (2σ² across, over 2s), to a share
    /// of (σ/s)²/4 = 6e-6.
    #[test]
    fn a_segment() {
        let ends = [Point::new(1.0, 2.0), Point::new(9.0, 8.0)];
        let found = lengthening(&ends, |_| 0.05, |p| Some(p[0].distance(p[1])));
        assert!(
            (found / (0.05f64.powi(2) / 10.0) - 1.0).abs() < 1e-5,
            "{found}"
        );
    }

    /// The drawn curve through 12 points on a line, against the mean of 4000
    /// noisy ones (its standard error: σ√2/√4000 = 0.0011 along the line).
    #[test]
    fn a_drawn_curve() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let points: Vec<Point> = (0..12)
            .map(|i| Point::new(1.2 * f64::from(i), 3.0))
            .collect();
        let size = |points: &[Point]| Some(DrawnCurve::through(points).ok()?.length());
        let expected = lengthening(&points, |_| 0.05, size);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let mut noisy = || {
            let mut deviate = || {
                let z: f64 = StandardNormal.sample(&mut rng);
                0.05 * z
            };
            let shaken = points.iter().map(|p| *p + Vec2::new(deviate(), deviate()));
            size(&shaken.collect::<Vec<_>>()).unwrap()
        };
        let mean = (0..4000).map(|_| noisy()).sum::<f64>() / 4000.0 - 13.2;
        assert!(mean > 0.015, "{mean}");
        assert!(
            (mean - expected).abs() < 0.004,
            "{mean}, expected {expected}"
        );
    }
}
