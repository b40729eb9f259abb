//! The curve drawn through the points: interpolating C2 cubic spline.

use kurbo::{
    BezPath, CubicBez, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathEl, Point, Vec2,
};

use super::{GeometryError, Projection, check_points, unit};

/// Relative accuracy asked of each segment's length, one decade inside the
/// 1e-9 promised.
const RELATIVE_ACCURACY: f64 = 1e-10;

/// Interpolating C2 cubic spline with natural ends over the chord-length
/// parameter (docs/methods.md 2), prolonged straight along its end tangents.
///
/// It gives lengths and places. It must not be used for angles or curvature:
/// it follows the noise of the points (see `docs/accuracy.md`).
#[derive(Clone, Debug)]
pub struct DrawnCurve {
    segments: Vec<CubicBez>,
    /// Length from the start to each knot; one more than `segments`.
    lengths: Vec<f64>,
    workspace: Workspace,
}

/// Buffers of [`solve_knot_slopes`], kept so that a refit allocates nothing.
#[derive(Clone, Debug, Default)]
struct Workspace {
    chords: Vec<f64>,
    ratios: Vec<f64>,
    slopes: Vec<Vec2>,
}

impl DrawnCurve {
    /// The curve through two or more points; two give a straight line.
    ///
    /// # Errors
    /// [`GeometryError`] when there are fewer than two points, a coordinate
    /// is not finite, or neighbouring points coincide.
    pub fn through(points: &[Point]) -> Result<Self, GeometryError> {
        let mut curve = Self {
            segments: Vec::new(),
            lengths: Vec::new(),
            workspace: Workspace::default(),
        };
        curve.refit(points)?;
        Ok(curve)
    }

    /// Straight pieces from point to point, for a line that nobody drew as a
    /// curve.
    ///
    /// # Errors
    /// As [`DrawnCurve::through`].
    pub fn straight_pieces(points: &[Point]) -> Result<Self, GeometryError> {
        let mut curve = Self {
            segments: Vec::new(),
            lengths: Vec::new(),
            workspace: Workspace::default(),
        };
        curve.refit_straight(points)?;
        Ok(curve)
    }

    /// Replaces the curve by the one through `points`, reusing its memory.
    ///
    /// # Errors
    /// As [`DrawnCurve::through`]; the curve is then left unchanged.
    pub fn refit(&mut self, points: &[Point]) -> Result<(), GeometryError> {
        check_points(points, 2)?;
        solve_knot_slopes(points, &mut self.workspace);
        self.clear();
        for (i, pair) in points.windows(2).enumerate() {
            let chord = self.workspace.chords[i];
            let slopes = [self.workspace.slopes[i], self.workspace.slopes[i + 1]];
            let segment = CubicBez::new(
                pair[0],
                pair[0] + slopes[0] * (chord / 3.0),
                pair[1] - slopes[1] * (chord / 3.0),
                pair[1],
            );
            self.push(segment, segment.arclen(RELATIVE_ACCURACY * chord));
        }
        Ok(())
    }

    /// Replaces the curve by straight pieces, reusing its memory.
    ///
    /// # Errors
    /// As [`DrawnCurve::through`]; the curve is then left unchanged.
    pub fn refit_straight(&mut self, points: &[Point]) -> Result<(), GeometryError> {
        check_points(points, 2)?;
        self.clear();
        for pair in points.windows(2) {
            let third = (pair[1] - pair[0]) / 3.0;
            let segment = CubicBez::new(pair[0], pair[0] + third, pair[1] - third, pair[1]);
            self.push(segment, pair[0].distance(pair[1]));
        }
        Ok(())
    }

    fn clear(&mut self) {
        self.segments.clear();
        self.lengths.clear();
        self.lengths.push(0.0);
    }

    /// Prolongs the curve by a segment of that length.
    fn push(&mut self, segment: CubicBez, length: f64) {
        let before = self.length();
        self.segments.push(segment);
        self.lengths.push(before + length);
    }

    /// Length from the first point to the last, to a relative error ≤ 1e-9.
    pub fn length(&self) -> f64 {
        self.lengths[self.segments.len()]
    }

    /// Length from the start to the point of that index.
    pub fn length_at_point(&self, index: usize) -> Option<f64> {
        self.lengths.get(index).copied()
    }

    /// First point.
    pub fn start(&self) -> Point {
        self.segments[0].p0
    }

    /// Last point.
    pub fn end(&self) -> Point {
        self.segments[self.segments.len() - 1].p3
    }

    /// The place at `length` from the start; below 0 and beyond the curve's
    /// length on the prolongations. NaN gives NaN.
    pub fn point_at_length(&self, length: f64) -> Point {
        if length < 0.0 {
            return self.start() + self.tangent_at_length(0.0) * length;
        }
        if length > self.length() {
            return self.end() + self.tangent_at_length(length) * (length - self.length());
        }
        let (segment, t) = self.locate(length);
        segment.eval(t)
    }

    /// Unit direction of travel at `length` from the start; constant on the
    /// prolongations.
    pub fn tangent_at_length(&self, length: f64) -> Vec2 {
        let (segment, t) = self.locate(length.clamp(0.0, self.length()));
        direction(segment, t)
    }

    /// The nearest place on the curve or its prolongations.
    pub fn project(&self, point: Point) -> Projection {
        let mut nearest = self.project_on_segments(point);
        for (end, at, outward) in [(self.start(), 0.0, -1.0), (self.end(), self.length(), 1.0)] {
            let tangent = self.tangent_at_length(at);
            let along = (point - end).dot(tangent);
            if along * outward > 0.0 {
                let candidate = Projection::new(at + along, end + tangent * along, tangent, point);
                if candidate.distance() < nearest.distance() {
                    nearest = candidate;
                }
            }
        }
        nearest
    }

    /// Straight distance from the first point to the last.
    pub fn chord(&self) -> f64 {
        self.start().distance(self.end())
    }

    /// The curve as cubic Bézier segments.
    pub fn to_bez_path(&self) -> BezPath {
        let mut path = BezPath::with_capacity(self.segments.len() + 1);
        path.move_to(self.start());
        path.extend(
            self.segments
                .iter()
                .map(|s| PathEl::CurveTo(s.p1, s.p2, s.p3)),
        );
        path
    }

    /// Segment and parameter at `length`, which lies within the curve.
    fn locate(&self, length: f64) -> (&CubicBez, f64) {
        let after = self.lengths.partition_point(|&l| l <= length);
        let index = after.saturating_sub(1).min(self.segments.len() - 1);
        let segment = &self.segments[index];
        let (from, to) = (self.lengths[index], self.lengths[index + 1]);
        (segment, parameter_at(segment, length - from, to - from))
    }

    /// The nearest place on the curve itself. Segments whose control points
    /// all lie farther away than a place already found are passed over.
    fn project_on_segments(&self, point: Point) -> Projection {
        let to_knot = |s: &CubicBez| s.p3.distance_squared(point);
        let to_start = self.start().distance_squared(point);
        let reach = self.segments.iter().map(to_knot).fold(to_start, f64::min);
        let (mut index, mut t, mut least) = (0, 0.0, f64::INFINITY);
        for (i, segment) in self.segments.iter().enumerate() {
            if least_distance_squared(segment, point) > least.min(reach) {
                continue;
            }
            let nearest = nearest_parameter(segment, point);
            let squared = segment.eval(nearest).distance_squared(point);
            if squared < least {
                (index, t, least) = (i, nearest, squared);
            }
        }
        let segment = &self.segments[index];
        let along = part_length(segment, t, self.lengths[index + 1] - self.lengths[index]);
        Projection::new(
            self.lengths[index] + along,
            segment.eval(t),
            direction(segment, t),
            point,
        )
    }
}

/// First derivatives at the knots of the natural cubic spline over the
/// chord-length parameter: one tridiagonal system, by elimination.
fn solve_knot_slopes(points: &[Point], workspace: &mut Workspace) {
    let Workspace {
        chords,
        ratios,
        slopes,
    } = workspace;
    chords.clear();
    chords.extend(points.windows(2).map(|pair| pair[0].distance(pair[1])));
    ratios.clear();
    slopes.clear();
    let last = chords.len();
    let secant = |i: usize| (points[i + 1] - points[i]) / chords[i];
    // Row i of the system: below · m[i−1] + middle · m[i] + above · m[i+1] = right.
    for i in 0..=last {
        let (below, middle, above, right) = if i == 0 {
            (0.0, 2.0, 1.0, secant(0) * 3.0)
        } else if i == last {
            (1.0, 2.0, 0.0, secant(last - 1) * 3.0)
        } else {
            let (before, after) = (chords[i - 1], chords[i]);
            let weight = after / (before + after);
            let right = secant(i - 1) * weight + secant(i) * (1.0 - weight);
            (weight, 2.0, 1.0 - weight, right * 3.0)
        };
        let (ratio, slope) = if i == 0 {
            (0.0, Vec2::ZERO)
        } else {
            (ratios[i - 1], slopes[i - 1])
        };
        let pivot = middle - below * ratio;
        ratios.push(above / pivot);
        slopes.push((right - slope * below) / pivot);
    }
    for i in (0..last).rev() {
        let next = slopes[i + 1];
        slopes[i] -= next * ratios[i];
    }
}

/// Unit direction at `t`; where the derivative vanishes, that of the chord.
fn direction(segment: &CubicBez, t: f64) -> Vec2 {
    let derivative = segment.deriv().eval(t).to_vec2();
    if derivative.hypot2() > 0.0 {
        unit(derivative)
    } else {
        unit(segment.p3 - segment.p0)
    }
}

/// Length of `segment` from its start to `t`, of `whole` length.
fn part_length(segment: &CubicBez, t: f64, whole: f64) -> f64 {
    if t <= 0.0 {
        0.0
    } else if t >= 1.0 {
        whole
    } else {
        segment.subsegment(0.0..t).arclen(RELATIVE_ACCURACY * whole)
    }
}

/// Square of a distance that no place of `segment` is nearer to `point` than:
/// that of the box about its control points.
fn least_distance_squared(segment: &CubicBez, point: Point) -> f64 {
    let [a, b, c, d] = [segment.p0, segment.p1, segment.p2, segment.p3];
    let beyond = |at: f64, values: [f64; 4]| {
        let low = values.into_iter().fold(f64::INFINITY, f64::min);
        let high = values.into_iter().fold(f64::NEG_INFINITY, f64::max);
        (low - at).max(at - high).max(0.0)
    };
    let x = beyond(point.x, [a.x, b.x, c.x, d.x]);
    let y = beyond(point.y, [a.y, b.y, c.y, d.y]);
    x * x + y * y
}

/// Parameter at `along` of `whole` length: Newton steps kept in a bracket.
fn parameter_at(segment: &CubicBez, along: f64, whole: f64) -> f64 {
    let derivative = segment.deriv();
    let (mut low, mut high) = (0.0, 1.0);
    let mut t = along / whole;
    for _ in 0..60 {
        let excess = part_length(segment, t, whole) - along;
        if excess.abs() <= RELATIVE_ACCURACY * whole {
            break;
        }
        if excess > 0.0 {
            high = t
        } else {
            low = t
        }
        let newton = t - excess / derivative.eval(t).to_vec2().hypot();
        t = if low < newton && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
    }
    t
}

/// Parameter of the place of `segment` nearest to `point`: the best of a
/// coarse scan, then Newton steps on the foot condition kept in a bracket.
fn nearest_parameter(segment: &CubicBez, point: Point) -> f64 {
    const STEPS: usize = 16;
    let at = |k: usize| k as f64 / STEPS as f64;
    let squared = |t: f64| segment.eval(t).distance_squared(point);
    let best = (0..=STEPS)
        .map(|k| (k, squared(at(k))))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let best = best.map_or(0, |(k, _)| k);
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(STEPS)));
    let (first, second) = (segment.deriv(), segment.deriv().deriv());
    let mut t = at(best);
    for _ in 0..60 {
        let (away, d1) = (segment.eval(t) - point, first.eval(t).to_vec2());
        // Half the derivative of the squared distance, and of that in turn.
        let slope = away.dot(d1);
        let curvature = d1.hypot2() + away.dot(second.eval(t).to_vec2());
        if slope > 0.0 {
            high = t
        } else {
            low = t
        }
        let newton = t - slope / curvature;
        let next = if low <= newton && newton <= high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - t).abs() <= 1e-15 {
            return next;
        }
        t = next;
    }
    t
}
