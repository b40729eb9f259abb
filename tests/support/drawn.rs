//! How far a suggestion, drawn as a curve through its points, lies from a true
//! line.

use kurbo::Point;
use lengthfilm::geometry::DrawnCurve;
use lengthfilm::units::FilmPoint;

/// Distance between the places a drawn curve is compared at, mm.
const STEP_MM: f64 = 0.05;

/// Mean and 95th percentile of the distance between `line` and the curve drawn
/// through `points` (both px), mm; infinite where no curve goes through them.
pub fn mean_and_95_percent_mm(
    points: &[FilmPoint],
    line: &[FilmPoint],
    mm_per_px: f64,
) -> [f64; 2] {
    let mut distances_mm: Vec<f64> = on_drawn_curve(points, mm_per_px)
        .iter()
        .map(|&p| distance_to_line_px(p, line) * mm_per_px)
        .collect();
    if distances_mm.is_empty() {
        return [f64::INFINITY; 2];
    }
    distances_mm.sort_by(f64::total_cmp);
    let mean = distances_mm.iter().sum::<f64>() / distances_mm.len() as f64;
    [mean, distances_mm[distances_mm.len() * 95 / 100]]
}

fn on_drawn_curve(points: &[FilmPoint], mm_per_px: f64) -> Vec<FilmPoint> {
    let points: Vec<Point> = points.iter().map(|p| Point::new(p.x, p.y)).collect();
    let Ok(curve) = DrawnCurve::through(&points) else {
        return Vec::new();
    };
    let steps = (curve.length() * mm_per_px / STEP_MM).ceil().max(1.0) as usize;
    (0..=steps)
        .map(|i| curve.point_at_length(curve.length() * i as f64 / steps as f64))
        .map(|p| FilmPoint::new(p.x, p.y))
        .collect()
}

fn distance_to_line_px(p: FilmPoint, line: &[FilmPoint]) -> f64 {
    line.windows(2)
        .map(|w| {
            let (a, b) = (w[0], w[1]);
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let f = (((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            p.distance_px(FilmPoint::new(a.x + f * dx, a.y + f * dy))
        })
        .fold(f64::INFINITY, f64::min)
}
