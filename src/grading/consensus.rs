//! The consensus of several traces of one canal: pointwise mean along
//! normalised arc length, with the spread at each place.

use kurbo::{Point, Vec2};

use super::path::{MeasuredPath, PathError};

/// The mean path of several traces and how far they scatter about it, in their unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Consensus {
    /// Mean points, orifice → apex, at equal shares of each trace's length.
    pub points: Vec<Point>,
    /// Standard deviation of the traces across the path at each point.
    pub spread_across: Vec<f64>,
    /// Standard deviation along the path at each point; at the ends it says
    /// how well the traces agree on orifice and apex.
    pub spread_along: Vec<f64>,
}

/// Consensus of `traces`, all running the same way, at `count` ≥ 2 points.
/// The spread of a single trace is zero.
///
/// Averaging cuts corners: where traces of a bend lie `d` apart along the
/// path, the mean lies inside by about `d²` times half the curvature.
///
/// # Errors
/// No trace at all, or traces whose mean has no length.
pub fn consensus(traces: &[MeasuredPath], count: usize) -> Result<Consensus, PathError> {
    if traces.is_empty() {
        return Err(PathError::TooFewPoints(0));
    }
    let sampled: Vec<Vec<Point>> = traces.iter().map(|t| t.resampled(count)).collect();
    let count = sampled[0].len();
    let share = 1.0 / traces.len() as f64;
    let points: Vec<Point> = (0..count)
        .map(|i| {
            let sum: Vec2 = sampled.iter().map(|trace| trace[i].to_vec2()).sum();
            (sum * share).to_point()
        })
        .collect();
    MeasuredPath::new(&points)?;

    let mut spread_across = Vec::with_capacity(count);
    let mut spread_along = Vec::with_capacity(count);
    let divisor = (traces.len() - 1).max(1) as f64;
    for i in 0..count {
        let tangent = points[(i + 1).min(count - 1)] - points[i.saturating_sub(1)];
        let along = tangent / tangent.hypot().max(f64::MIN_POSITIVE);
        let (mut across_squares, mut along_squares) = (0.0, 0.0);
        for trace in &sampled {
            let off = trace[i] - points[i];
            across_squares += along.cross(off).powi(2);
            along_squares += along.dot(off).powi(2);
        }
        spread_across.push((across_squares / divisor).sqrt());
        spread_along.push((along_squares / divisor).sqrt());
    }
    Ok(Consensus {
        points,
        spread_across,
        spread_along,
    })
}
