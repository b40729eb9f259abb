//! The rectangle's own edges: how straight they are, and corners snapped to
//! them.

use super::{FlattenError, Request};
use crate::film::Film;
use crate::statistics::quantile;
use crate::units::FilmPoint;

/// Places at which each side is looked at, away from its corners.
const PLACES: usize = 60;
const FROM_CORNER: f64 = 0.08;

/// Share of the places that must show the edge.
const LEAST_SEEN: f64 = 0.6;

/// The edge found along one side.
#[derive(Clone, Debug, PartialEq)]
pub struct SideEdges {
    /// Share of the side from its first corner, and distance of the edge from
    /// the straight side, px, inwards positive.
    pub places: Vec<(f64, f64)>,
    /// Straight line through the distances: at the first and at the second
    /// corner.
    pub line: [f64; 2],
}

/// The edge along the side from one corner to the next (clockwise); `None`
/// where it is not seen along most of it.
pub fn side_edges(photo: &Film, from: FilmPoint, to: FilmPoint) -> Option<SideEdges> {
    let length = from.distance_px(to);
    let reach = (0.015 * length).clamp(6.0, 40.0);
    let along = [(to.x - from.x) / length, (to.y - from.y) / length];
    // Clockwise: the inside lies to the right.
    let inwards = [-along[1], along[0]];
    let at = |share: f64| {
        let profile = Across {
            photo,
            at: [
                from.x + share * (to.x - from.x),
                from.y + share * (to.y - from.y),
            ],
            inwards,
        };
        profile
            .edge(reach)
            .map(|(offset, step)| (share, offset, step))
    };
    let share =
        |i: usize| FROM_CORNER + (1.0 - 2.0 * FROM_CORNER) * (i as f64 + 0.5) / PLACES as f64;
    let found: Vec<_> = (0..PLACES).filter_map(|i| at(share(i))).collect();
    // One edge has one sense: from dark to bright, or the other way.
    let rising = found.iter().filter(|f| f.2 > 0.0).count() * 2 > found.len();
    let mut places: Vec<(f64, f64)> = found
        .iter()
        .filter(|f| (f.2 > 0.0) == rising)
        .map(|f| (f.0, f.1))
        .collect();
    // Scratches and letters: what lies far from the line is left out.
    for _ in 0..3 {
        let line = fitted(&places)?;
        let mut away: Vec<f64> = places.iter().map(|p| (p.1 - on(line, p.0)).abs()).collect();
        let limit = (4.0 * quantile(&mut away, 0.5)?).max(0.75);
        places.retain(|p| (p.1 - on(line, p.0)).abs() <= limit);
    }
    if (places.len() as f64) < LEAST_SEEN * PLACES as f64 {
        return None;
    }
    let line = fitted(&places)?;
    Some(SideEdges { places, line })
}

/// Root mean square distance of the rectangle's edges from the straight sides
/// between the corners, px of the photograph; `None` where no side shows one.
pub fn edge_residual_px(photo: &Film, corners: &[FilmPoint; 4]) -> Option<f64> {
    let sides = (0..4).filter_map(|i| side_edges(photo, corners[i], corners[(i + 1) % 4]));
    let squares: Vec<f64> = sides
        .flat_map(|side| side.places.into_iter().map(|p| p.1 * p.1))
        .collect();
    let count = squares.len() as f64;
    (count > 0.0).then(|| (squares.iter().sum::<f64>() / count).sqrt())
}

/// The request with its corners at the crossings of the rectangle's edges.
///
/// # Errors
/// [`FlattenError::NoEdge`] for a side that is not seen.
pub fn snapped(photo: &Film, request: &Request) -> Result<Request, FlattenError> {
    let mut request = request.clone();
    // Once from the corners given, once more from close by.
    for _ in 0..2 {
        let c = request.corners_px;
        let mut lines = Vec::with_capacity(4);
        for i in 0..4 {
            let (from, to) = (c[i], c[(i + 1) % 4]);
            let side = side_edges(photo, from, to).ok_or(FlattenError::NoEdge {
                from: i + 1,
                to: (i + 1) % 4 + 1,
            })?;
            let length = from.distance_px(to);
            let inwards = [-(to.y - from.y) / length, (to.x - from.x) / length];
            let moved = |p: FilmPoint, by: f64| [p.x + by * inwards[0], p.y + by * inwards[1]];
            lines.push([moved(from, side.line[0]), moved(to, side.line[1])]);
        }
        for i in 0..4 {
            let corner = crossing(lines[(i + 3) % 4], lines[i]);
            request.corners_px[i] = corner.ok_or(FlattenError::NoRectangle)?.into();
        }
    }
    request.snapped = true;
    Ok(request)
}

fn on([start, end]: [f64; 2], share: f64) -> f64 {
    start + (end - start) * share
}

/// Straight line by least squares, as values at 0 and at 1.
fn fitted(places: &[(f64, f64)]) -> Option<[f64; 2]> {
    let n = places.len() as f64;
    if places.len() < 3 {
        return None;
    }
    let (mean_x, mean_y) = (
        places.iter().map(|p| p.0).sum::<f64>() / n,
        places.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let xx: f64 = places.iter().map(|p| (p.0 - mean_x).powi(2)).sum();
    let xy: f64 = places.iter().map(|p| (p.0 - mean_x) * (p.1 - mean_y)).sum();
    let slope = xy / xx;
    let start = mean_y - slope * mean_x;
    slope.is_finite().then_some([start, start + slope])
}

fn crossing([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> Option<[f64; 2]> {
    let (r, s) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]]);
    let cross = r[0] * s[1] - r[1] * s[0];
    let t = ((c[0] - a[0]) * s[1] - (c[1] - a[1]) * s[0]) / cross;
    t.is_finite().then_some([a[0] + t * r[0], a[1] + t * r[1]])
}

/// Grey along a line across a side.
struct Across<'a> {
    photo: &'a Film,
    at: [f64; 2],
    inwards: [f64; 2],
}

impl Across<'_> {
    /// Distance of the steepest step within `reach`, inwards positive, and its
    /// height; `None` where no step stands out.
    fn edge(&self, reach: f64) -> Option<(f64, f64)> {
        let half = reach.ceil() as i32;
        let grey: Vec<f64> = (-half - 2..=half + 2)
            .map(|k| self.grey(f64::from(k)))
            .collect::<Option<_>>()?;
        // Differences over four px: wide enough for a soft edge.
        let slopes: Vec<f64> = grey
            .windows(5)
            .map(|w| 0.5 * (w[4] + w[3] - w[1] - w[0]))
            .collect();
        let (best, &step) = slopes
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        let mut sizes: Vec<f64> = slopes.iter().map(|s| s.abs()).collect();
        let usual = quantile(&mut sizes, 0.5)?;
        if step.abs() < 4.0 * usual || step.abs() < 4.0 {
            return None;
        }
        // The centre of the steep part, to a fraction of a px.
        let from = best.saturating_sub(3);
        let to = (best + 4).min(slopes.len());
        let weights = (from..to).map(|i| (i as f64, (slopes[i] * step.signum()).max(0.0)));
        let (sum, moment) = weights.fold((0.0, 0.0), |(s, m), (i, w)| (s + w, m + w * i));
        Some((moment / sum - f64::from(half), step))
    }

    /// Bilinear; `None` outside the photograph.
    fn grey(&self, offset: f64) -> Option<f64> {
        let x = self.at[0] + offset * self.inwards[0] - 0.5;
        let y = self.at[1] + offset * self.inwards[1] - 0.5;
        let (x0, y0) = (x.floor(), y.floor());
        if x0 < 0.0 || y0 < 0.0 {
            return None;
        }
        let at = |dx: u32, dy: u32| {
            self.photo
                .sample(x0 as u32 + dx, y0 as u32 + dy)
                .map(f64::from)
        };
        let (fx, fy) = (x - x0, y - y0);
        let top = at(0, 0)? * (1.0 - fx) + at(1, 0)? * fx;
        let bottom = at(0, 1)? * (1.0 - fx) + at(1, 1)? * fx;
        Some(top * (1.0 - fy) + bottom * fy)
    }
}
