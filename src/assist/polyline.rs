//! Polylines on the film: resampling, smoothing, and the few spline points
//! that stand for a path.

use crate::geometry::DrawnCurve;
use crate::units::FilmPoint;

/// Distance along `points` from the first to each.
pub(super) fn arc_lengths_px(points: &[FilmPoint]) -> Vec<f64> {
    let mut lengths = Vec::with_capacity(points.len());
    let mut sum = 0.0;
    for (i, p) in points.iter().enumerate() {
        if i > 0 {
            sum += p.distance_px(points[i - 1]);
        }
        lengths.push(sum);
    }
    lengths
}

/// Points at equal steps near `step_px` along `points`, both ends kept; at
/// least `least` of them.
pub(super) fn resampled(points: &[FilmPoint], step_px: f64, least: usize) -> Vec<FilmPoint> {
    let lengths = arc_lengths_px(points);
    let total = lengths.last().copied().unwrap_or(0.0);
    let steps = ((total / step_px).round() as usize).max(least - 1).max(1);
    let mut at = 0;
    (0..=steps)
        .map(|i| {
            let s = total * i as f64 / steps as f64;
            while at + 2 < points.len() && lengths[at + 1] < s {
                at += 1;
            }
            let span = (lengths[at + 1] - lengths[at]).max(1e-12);
            let f = ((s - lengths[at]) / span).clamp(0.0, 1.0);
            let (a, b) = (points[at], points[at + 1]);
            FilmPoint::new(a.x + f * (b.x - a.x), a.y + f * (b.y - a.y))
        })
        .collect()
}

/// `points` (at equal steps) smoothed by a Gaussian of `sigma_steps`; the ends
/// stay, because the path is prolonged beyond them by its point mirror image.
pub(super) fn smoothed(points: &[FilmPoint], sigma_steps: f64) -> Vec<FilmPoint> {
    let reach = (3.0 * sigma_steps).ceil() as isize;
    let last = points.len() as isize - 1;
    let at = |i: isize| -> FilmPoint {
        let mirrored = |end: isize, i: isize| {
            let (e, p) = (
                points[end as usize],
                points[(2 * end - i).clamp(0, last) as usize],
            );
            FilmPoint::new(2.0 * e.x - p.x, 2.0 * e.y - p.y)
        };
        match i {
            i if i < 0 => mirrored(0, i),
            i if i > last => mirrored(last, i),
            i => points[i as usize],
        }
    };
    (0..=last)
        .map(|i| {
            let (mut x, mut y, mut sum) = (0.0, 0.0, 0.0);
            for k in -reach..=reach {
                let weight = (-0.5 * (k as f64 / sigma_steps).powi(2)).exp();
                let p = at(i + k);
                x += weight * p.x;
                y += weight * p.y;
                sum += weight;
            }
            FilmPoint::new(x / sum, y / sum)
        })
        .collect()
}

/// Distance from `p` to the polyline `line`, px.
pub(super) fn distance_to_polyline_px(p: FilmPoint, line: &[FilmPoint]) -> f64 {
    line.windows(2)
        .map(|pair| {
            let (a, b) = (pair[0], pair[1]);
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let f = ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy).max(1e-12);
            let f = f.clamp(0.0, 1.0);
            p.distance_px(FilmPoint::new(a.x + f * dx, a.y + f * dy))
        })
        .fold(f64::INFINITY, f64::min)
}

/// Index of the point of `points` nearest to `p`.
pub(super) fn nearest_index(points: &[FilmPoint], p: FilmPoint) -> usize {
    let mut nearest = (f64::INFINITY, 0);
    for (i, q) in points.iter().enumerate() {
        let distance = p.distance_px(*q);
        if distance < nearest.0 {
            nearest = (distance, i);
        }
    }
    nearest.1
}

/// Few points of `path` whose drawn curve stays within `curve_px`, and whose
/// straight connection stays within `polyline_px`, of every point of `path`:
/// the ends, then again and again the middle of the worst stretch.
pub(super) fn few_points(path: &[FilmPoint], curve_px: f64, polyline_px: f64) -> Vec<FilmPoint> {
    let last = path.len() - 1;
    let mut chosen = vec![0, last];
    while chosen.len() < path.len() {
        let points: Vec<FilmPoint> = chosen.iter().map(|&i| path[i]).collect();
        let kurbo_points: Vec<kurbo::Point> =
            points.iter().map(|p| kurbo::Point::new(p.x, p.y)).collect();
        let Ok(curve) = DrawnCurve::through(&kurbo_points) else {
            return path.to_vec();
        };
        let mut worst = (1.0, 0);
        for pair in chosen.windows(2) {
            let ends = [path[pair[0]], path[pair[1]]];
            for &p in &path[pair[0] + 1..pair[1]] {
                let from_curve = curve.project(kurbo::Point::new(p.x, p.y)).distance();
                let from_polyline = distance_to_polyline_px(p, &ends);
                let excess = (from_curve / curve_px).max(from_polyline / polyline_px);
                if excess > worst.0 {
                    worst = (excess, (pair[0] + pair[1]).div_ceil(2));
                }
            }
        }
        if worst.1 == 0 {
            return points;
        }
        let place = chosen.partition_point(|&i| i < worst.1);
        chosen.insert(place, worst.1);
    }
    path.to_vec()
}
