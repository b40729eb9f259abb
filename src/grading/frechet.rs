//! Continuous Fréchet distance of two polylines (Alt & Godau 1995, Int J
//! Comput Geom Appl 5:75–91): the shortest leash that lets one walk each path
//! from start to end without turning back.

use kurbo::Point;

use super::path::MeasuredPath;

/// The Fréchet distance is found to this, in the unit of the paths.
pub const FRECHET_TOLERANCE: f64 = 1e-4;

/// Slack of the free-space test: a leash that just touches is not lost to
/// rounding, nor to the tolerance of a Hausdorff distance given as bound.
const SLACK: f64 = 1e-6;

/// Continuous Fréchet distance, in the unit of the paths.
///
/// `at_least` is any lower bound already known, such as the Hausdorff
/// distance. For traces of one canal the answer nearly always *is* the
/// greater of that bound and the distance of the ends, and one decision
/// settles it to 1e-6; otherwise bisection finds it to
/// [`FRECHET_TOLERANCE`].
pub fn frechet_distance(a: &MeasuredPath, b: &MeasuredPath, at_least: f64) -> f64 {
    let ends = a.start().distance(b.start()).max(a.end().distance(b.end()));
    let mut low = at_least.max(ends);
    let mut space = FreeSpace::new(a, b);
    if space.leash_suffices(low) {
        return low;
    }
    let mut high = leash_at_equal_shares(a, b).max(low);
    while high - low > FRECHET_TOLERANCE {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if space.leash_suffices(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// Longest leash when both walk equal shares of their lengths: an upper
/// bound. Between the corners of either the leash is a convex function, so
/// the corners are enough.
fn leash_at_equal_shares(a: &MeasuredPath, b: &MeasuredPath) -> f64 {
    let ratio = b.length() / a.length();
    let corners_of_a = a.stations().iter().map(|&s| (s, s * ratio));
    let corners_of_b = b.stations().iter().map(|&s| (s / ratio, s));
    corners_of_a
        .chain(corners_of_b)
        .map(|(on_a, on_b)| a.point_at(on_a).distance(b.point_at(on_b)))
        .fold(0.0, f64::max)
}

/// Part of a cell's edge, as fractions 0–1; empty when `low > high`.
#[derive(Clone, Copy)]
struct Reach {
    low: f64,
    high: f64,
}

impl Reach {
    const NONE: Reach = Reach {
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    fn is_empty(self) -> bool {
        self.low > self.high
    }

    /// What of this free edge can be reached when nothing below `low` can.
    fn not_below(self, low: f64) -> Reach {
        Reach {
            low: self.low.max(low),
            high: self.high,
        }
    }
}

/// The free-space diagram of two paths: one column per segment of `a`, one row
/// per segment of `b`, decided row by row over the reachable columns only.
struct FreeSpace<'a> {
    a: &'a MeasuredPath,
    b: &'a MeasuredPath,
    /// Reachable part of the bottom edge of each cell of the row in hand.
    bottoms: Vec<Reach>,
}

impl<'a> FreeSpace<'a> {
    fn new(a: &'a MeasuredPath, b: &'a MeasuredPath) -> Self {
        Self {
            a,
            b,
            bottoms: vec![Reach::NONE; a.segment_count()],
        }
    }

    /// Whether a leash of this length lets both reach their ends.
    fn leash_suffices(&mut self, leash: f64) -> bool {
        let (a, b) = (self.a, self.b);
        let leash_squared = (leash + SLACK).powi(2);
        if a.start().distance_squared(b.start()) > leash_squared
            || a.end().distance_squared(b.end()) > leash_squared
        {
            return false;
        }
        let columns = self.bottoms.len();
        // First and last column whose bottom edge can be reached: below row 0
        // `a` walks while `b` waits.
        let mut band = self.open_first_row(leash_squared);
        // Right edge of the last column, when it was reached.
        let mut exit = Reach::NONE;
        // While `a` waits at its start, `b` may walk as far as this is open.
        let mut left_open = true;
        for row in 0..b.segment_count() {
            let mut left = Reach::NONE;
            if left_open {
                let free = free_part(b, row, a.start(), leash_squared);
                if free.low <= 0.0 {
                    left = free;
                }
                left_open = left.high >= 1.0;
            }
            let Some(mut column) = (match (left.is_empty(), band) {
                (false, _) => Some(0),
                (true, Some((first, _))) => Some(first),
                (true, None) => None,
            }) else {
                return false;
            };
            let reached_below = |column| band.is_some_and(|(_, last)| column <= last);
            let mut next_band = None;
            while column < columns && (!left.is_empty() || reached_below(column)) {
                let bottom = self.bottoms[column];
                let (top, right) = if left.is_empty() && bottom.is_empty() {
                    (Reach::NONE, Reach::NONE)
                } else {
                    // Entered from below, all of the free right edge can be
                    // reached; entered from the left, all of the top edge.
                    let right = free_part(b, row, a.points()[column + 1], leash_squared);
                    let top = free_part(a, column, b.points()[row + 1], leash_squared);
                    (
                        if left.is_empty() {
                            top.not_below(bottom.low)
                        } else {
                            top
                        },
                        if bottom.is_empty() {
                            right.not_below(left.low)
                        } else {
                            right
                        },
                    )
                };
                self.bottoms[column] = top;
                if !top.is_empty() {
                    let first = next_band.map_or(column, |(first, _)| first);
                    next_band = Some((first, column));
                }
                left = right;
                column += 1;
            }
            exit = if column == columns { left } else { Reach::NONE };
            band = next_band;
        }
        self.bottoms[columns - 1].high >= 1.0 || exit.high >= 1.0
    }

    /// Fills the bottom edges of row 0 and returns the columns reached.
    fn open_first_row(&mut self, leash_squared: f64) -> Option<(usize, usize)> {
        self.bottoms.fill(Reach::NONE);
        let mut band = None;
        for (column, bottom) in self.bottoms.iter_mut().enumerate() {
            let free = free_part(self.a, column, self.b.start(), leash_squared);
            if free.low > 0.0 {
                break;
            }
            *bottom = free;
            band = Some((0, column));
            if free.high < 1.0 {
                break;
            }
        }
        band
    }
}

/// Part of one segment of `path` that lies within the leash of `p`.
fn free_part(path: &MeasuredPath, segment: usize, p: Point, leash_squared: f64) -> Reach {
    let from = path.points()[segment];
    let chord = path.points()[segment + 1] - from;
    let length_squared = chord.hypot2();
    let along = (p - from).dot(chord) / length_squared;
    let off_squared = p.distance_squared(from + along * chord);
    if off_squared > leash_squared {
        return Reach::NONE;
    }
    let half = ((leash_squared - off_squared) / length_squared).sqrt();
    let free = Reach {
        low: (along - half).max(0.0),
        high: (along + half).min(1.0),
    };
    if free.is_empty() { Reach::NONE } else { free }
}
