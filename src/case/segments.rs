//! Straight pieces between the points of a line.

use kurbo::{Line, ParamCurveNearest, Point};

use crate::units::FilmPoint;

/// Index of the segment of a line that is nearest to a place.
pub fn nearest_segment(line: &[FilmPoint], at: FilmPoint) -> Option<usize> {
    line.windows(2)
        .map(|pair| distance_to_segment_px(at, pair[0], pair[1]))
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(index, _)| index)
}

/// Distance of `p` from the segment `a`–`b`, px.
fn distance_to_segment_px(p: FilmPoint, a: FilmPoint, b: FilmPoint) -> f64 {
    let [p, a, b] = [p, a, b].map(|at| Point::new(at.x, at.y));
    // Exact for a line, whatever the accuracy asked for.
    Line::new(a, b).nearest(p, 1e-6).distance_sq.sqrt()
}
