//! Inclination of the tooth against its neighbour in the film's plane.
//!
//! The axis of a tooth is the mean direction of least-squares lines through the
//! points of the coronal halves of its canals (our choice); the form does not
//! say against what a tooth is inclined. Towards cheek or tongue a film shows
//! nothing.

use kurbo::{Point, Vec2};

use super::evidence::{Evidence, Measured, Spread, deviates};
use crate::assessment::inclination_class;
use crate::case::PlaceKind;
use crate::curvature::DifficultyClass;
use crate::measure::assessment_findings::MeasuredRow;
use crate::statistics::{Z95, normal_share_above};
use crate::units::Quantity;

/// Random numbers apart from those of the apex openings.
const STREAM: u64 = 1 << 32;

/// A direction on the film.
struct Axis {
    angle_rad: f64,
    u_rad: f64,
}

/// The row; `None` unless both teeth are traced.
pub fn row(evidence: &Evidence) -> Option<Measured> {
    let canals = 0..evidence.case.canals.len();
    let (next, own): (Vec<_>, Vec<_>) = canals.partition(|&c| evidence.is_neighbour(c));
    let (own, next) = (tooth_axis(evidence, &own)?, tooth_axis(evidence, &next)?);
    let between = own.angle_rad - next.angle_rad;
    let u_rad = own.u_rad.hypot(next.u_rad);
    let angle_rad = folded(between);
    let class = inclination_class(angle_rad)?;
    let spread = match evidence.drawn {
        Some(drawn) => {
            let deviates = deviates(drawn, evidence.case.seed, STREAM);
            let angles = deviates.iter().map(|d| folded(between + u_rad * d));
            Spread::Draws(angles.map(inclination_class).collect())
        }
        None if evidence.has_law() => {
            let outside = |limit: f64| {
                let above = normal_share_above(limit, angle_rad, u_rad)?;
                let below = normal_share_above(limit, -angle_rad, u_rad)?;
                Some(above + below)
            };
            let [moderate_or_high, high] = DifficultyClass::LIMITS_RAD.map(outside);
            let (beyond, high) = (moderate_or_high?, high?);
            Spread::Shares(Some([1.0 - beyond, beyond - high, high]))
        }
        None => Spread::Shares(None),
    };
    let finding = MeasuredRow {
        class,
        probabilities: None,
        value: Some(Quantity {
            value: angle_rad.to_degrees(),
            u95: (Z95 * u_rad).to_degrees(),
        }),
        unit: "deg",
        canal: None,
        from: "axis of the tooth against its neighbour's, in the film's plane".to_owned(),
    };
    Some(Measured::new(evidence, finding, spread))
}

/// The angle between two directions, 0 to π.
fn folded(between_rad: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    let within = between_rad.rem_euclid(turn);
    within.min(turn - within)
}

/// Mean direction of the canals of a tooth that are traced.
fn tooth_axis(evidence: &Evidence, canals: &[usize]) -> Option<Axis> {
    let axes: Vec<Axis> = canals
        .iter()
        .filter_map(|&canal| canal_axis(evidence, canal))
        .collect();
    let sum: Vec2 = axes
        .iter()
        .map(|axis| Vec2::from_angle(axis.angle_rad))
        .sum();
    let variance: f64 = axes.iter().map(|axis| axis.u_rad.powi(2)).sum();
    (sum.hypot() > 0.0).then(|| Axis {
        angle_rad: sum.atan2(),
        u_rad: variance.sqrt() / axes.len() as f64,
    })
}

/// Direction of the coronal half of a canal's trace, orifice → apex.
fn canal_axis(evidence: &Evidence, canal: usize) -> Option<Axis> {
    let model = evidence.model;
    let content = &evidence.case.canals[canal];
    let points: Vec<Point> = content
        .trace_px
        .iter()
        .map(|&point| model.frame.detector_from_film(point))
        .collect();
    let half = coronal_half(&points)?;
    let (angle_rad, spread) = line_direction(half)?;
    let click = model.click(PlaceKind::Canal, content.assisted);
    Some(Axis {
        angle_rad,
        u_rad: click / spread,
    })
}

/// The points up to half of the trace's length, two at least.
fn coronal_half(points: &[Point]) -> Option<&[Point]> {
    let gaps = points.windows(2).map(|pair| pair[0].distance(pair[1]));
    let whole: f64 = gaps.clone().sum();
    let mut at = 0.0;
    let within = gaps.take_while(|gap| {
        at += gap;
        at <= whole / 2.0
    });
    points.get(..(within.count() + 1).max(2))
}

/// Direction of the least-squares line through points, from the first to the
/// last, rad, and the root of the sum of squares of their distances along it
/// from their middle.
fn line_direction(points: &[Point]) -> Option<(f64, f64)> {
    let count = points.len() as f64;
    let middle = points.iter().map(|p| p.to_vec2()).sum::<Vec2>() / count;
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for point in points {
        let at = point.to_vec2() - middle;
        xx += at.x * at.x;
        xy += at.x * at.y;
        yy += at.y * at.y;
    }
    let mut angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    if Vec2::from_angle(angle).dot(*points.last()? - *points.first()?) < 0.0 {
        angle += std::f64::consts::PI;
    }
    let along = Vec2::from_angle(angle);
    let squares: f64 = points
        .iter()
        .map(|point| (point.to_vec2() - middle).dot(along).powi(2))
        .sum();
    (squares > 0.0).then(|| (angle, squares.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_points_from_its_first_point_to_its_last() {
        for angle in [-3.0_f64, -1.2, 0.0, 0.4, 1.6, 3.1] {
            let along = Vec2::from_angle(angle);
            let points: Vec<Point> = (0..5)
                .map(|k| (along * f64::from(k)).to_point() + Vec2::new(3.0, -2.0))
                .collect();
            let (found, spread) = line_direction(&points).unwrap();
            assert!(folded(found - angle) < 1e-12, "{angle}: {found}");
            assert!((spread - 10f64.sqrt()).abs() < 1e-12);
            assert_eq!(coronal_half(&points).unwrap().len(), 3);
        }
    }
}
