//! A polyline measured along its length, with fast exact nearest-point
//! queries.

use kurbo::{Point, Vec2};
use thiserror::Error;

/// Why a path cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum PathError {
    #[error("a path needs at least two points, this one has {0}")]
    TooFewPoints(usize),
    #[error("point {0} of the path is not a finite number")]
    NotFinite(usize),
    #[error("all points of the path coincide: it has no length")]
    NoLength,
}

/// Segments that share one bounding box.
const BLOCK: usize = 8;

/// A polyline with its arc length; repeated points are dropped. All lengths are
/// in one unit, a [`LengthUnit`](super::length_unit::LengthUnit).
///
/// A smooth curve should be flattened first: the distances below are exact
/// for the polyline, so that they differ from those of the curve by no more
/// than the flattening tolerance of either.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPath {
    points: Vec<Point>,
    /// Arc length up to each point.
    stations: Vec<f64>,
    /// Bounding boxes of runs of `BLOCK` segments.
    boxes: Vec<Bounds>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Bounds {
    low: Point,
    high: Point,
}

impl Bounds {
    fn of(points: &[Point]) -> Self {
        let mut bounds = Bounds {
            low: points[0],
            high: points[0],
        };
        for p in points {
            bounds.low = Point::new(bounds.low.x.min(p.x), bounds.low.y.min(p.y));
            bounds.high = Point::new(bounds.high.x.max(p.x), bounds.high.y.max(p.y));
        }
        bounds
    }

    /// Squared distance from `p` to the box, 0 inside.
    fn distance_squared(&self, p: Point) -> f64 {
        let dx = (self.low.x - p.x).max(p.x - self.high.x).max(0.0);
        let dy = (self.low.y - p.y).max(p.y - self.high.y).max(0.0);
        dx * dx + dy * dy
    }
}

/// The nearest place of a path to some point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Straight distance.
    pub distance: f64,
    /// Segment it lies on, counted from 0.
    pub segment: usize,
    /// Where along the path it lies, from its start.
    pub station: f64,
}

impl MeasuredPath {
    /// A path through `points` (tooth frame).
    ///
    /// # Errors
    /// Fewer than two points, a point that is not finite, no length.
    pub fn new(points: &[Point]) -> Result<Self, PathError> {
        if points.len() < 2 {
            return Err(PathError::TooFewPoints(points.len()));
        }
        if let Some(bad) = points.iter().position(|p| !p.is_finite()) {
            return Err(PathError::NotFinite(bad + 1));
        }
        let mut kept = points.to_vec();
        kept.dedup();
        if kept.len() < 2 {
            return Err(PathError::NoLength);
        }
        let mut stations = Vec::with_capacity(kept.len());
        let mut length = 0.0;
        stations.push(0.0);
        for pair in kept.windows(2) {
            length += pair[0].distance(pair[1]);
            stations.push(length);
        }
        if !length.is_finite() {
            return Err(PathError::NotFinite(kept.len()));
        }
        let segments = kept.len() - 1;
        let boxes = (0..segments)
            .step_by(BLOCK)
            .map(|first| Bounds::of(&kept[first..=(first + BLOCK).min(segments)]))
            .collect();
        Ok(Self {
            points: kept,
            stations,
            boxes,
        })
    }

    /// The corners.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Arc length up to each corner; the last is the path's length.
    pub fn stations(&self) -> &[f64] {
        &self.stations
    }

    /// Length; positive.
    pub fn length(&self) -> f64 {
        self.stations[self.stations.len() - 1]
    }

    /// First point.
    pub fn start(&self) -> Point {
        self.points[0]
    }

    /// Last point.
    pub fn end(&self) -> Point {
        self.points[self.points.len() - 1]
    }

    /// Number of straight pieces.
    pub fn segment_count(&self) -> usize {
        self.points.len() - 1
    }

    /// The point at `station` along the path; the ends beyond it.
    pub fn point_at(&self, station: f64) -> Point {
        let after = self.stations.partition_point(|&s| s <= station);
        self.on_segment(after.clamp(1, self.points.len() - 1) - 1, station)
    }

    /// The point at `station` of one segment, kept within it.
    fn on_segment(&self, segment: usize, station: f64) -> Point {
        let (from, to) = (self.stations[segment], self.stations[segment + 1]);
        let t = ((station - from) / (to - from)).clamp(0.0, 1.0);
        self.points[segment].lerp(self.points[segment + 1], t)
    }

    /// Unit direction of a segment, towards the path's end.
    pub fn direction(&self, segment: usize) -> Vec2 {
        let chord = self.points[segment + 1] - self.points[segment];
        chord / (self.stations[segment + 1] - self.stations[segment])
    }

    /// `count` ≥ 2 points at equal steps of arc length, both ends included.
    pub fn resampled(&self, count: usize) -> Vec<Point> {
        let steps = count.max(2) - 1;
        let mut segment = 0;
        (0..=steps)
            .map(|i| {
                let station = self.length() * i as f64 / steps as f64;
                while segment + 2 < self.points.len() && self.stations[segment + 1] < station {
                    segment += 1;
                }
                self.on_segment(segment, station)
            })
            .collect()
    }

    /// Squared distance from `p` to one segment, and where on it (0–1).
    pub(super) fn segment_distance_squared(&self, segment: usize, p: Point) -> (f64, f64) {
        let from = self.points[segment];
        let chord = self.points[segment + 1] - from;
        let t = ((p - from).dot(chord) / chord.hypot2()).clamp(0.0, 1.0);
        (p.distance_squared(from + t * chord), t)
    }

    /// The nearest place of the path to `p`, exactly. `guess` is a segment to
    /// try first: close guesses (the answer for a neighbouring point) make
    /// the query fast, any other is only slower.
    pub fn nearest(&self, p: Point, guess: usize) -> Nearest {
        let guess = guess.min(self.segment_count() - 1);
        let (mut best, mut best_t) = self.segment_distance_squared(guess, p);
        let mut best_segment = guess;
        for (block, bounds) in self.boxes.iter().enumerate() {
            if bounds.distance_squared(p) >= best {
                continue;
            }
            let first = block * BLOCK;
            for segment in first..(first + BLOCK).min(self.segment_count()) {
                let (squared, t) = self.segment_distance_squared(segment, p);
                if squared < best {
                    (best, best_t, best_segment) = (squared, t, segment);
                }
            }
        }
        let (from, to) = (self.stations[best_segment], self.stations[best_segment + 1]);
        Nearest {
            distance: best.sqrt(),
            segment: best_segment,
            station: from + best_t * (to - from),
        }
    }
}
