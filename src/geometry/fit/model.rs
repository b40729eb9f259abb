//! The path model: residuals and what their derivatives are made of.

use arrayvec::ArrayVec;
use kurbo::{Point, Vec2};

use super::structure::{MAX_PARAMETERS, MAX_STRUCTURE, PieceKind, Row, Structure};
use crate::geometry::right_of;
use crate::geometry::straight_arc_path::Pose;

/// How a parameter moves everything downstream, per unit: a velocity as seen
/// at the path's start, and a rate of turn about it.
#[derive(Clone, Copy, Default)]
struct Twist {
    velocity: Vec2,
    rate: f64,
}

/// One piece in place.
#[derive(Clone, Copy)]
struct Placed {
    kind: PieceKind,
    pose: Pose,
    length: f64,
    curvature: f64,
    /// Index of its first parameter: all before it lie upstream.
    parameter: usize,
}

/// A structure with parameters, ready to give residuals and their derivatives.
pub(super) struct PlacedPath {
    pieces: ArrayVec<Placed, MAX_STRUCTURE>,
    end: Pose,
    twists: [Twist; MAX_PARAMETERS],
}

impl PlacedPath {
    pub(super) fn new(structure: &Structure, parameters: &Row) -> Self {
        let start = Point::new(parameters[0], parameters[1]);
        let mut twists = [Twist::default(); MAX_PARAMETERS];
        twists[0].velocity.x = 1.0;
        twists[1].velocity.y = 1.0;
        twists[2].rate = 1.0;
        let mut pose = Pose::new(start, parameters[2]);
        let mut pieces = ArrayVec::new();
        for (kind, index) in structure.length_indices() {
            let length = parameters[index];
            let mut placed = Placed {
                kind,
                pose,
                length,
                curvature: 0.0,
                parameter: index,
            };
            match kind {
                PieceKind::Straight => {
                    twists[index].velocity = pose.direction;
                    pose = pose.advanced(length, 0.0);
                }
                PieceKind::Arc => {
                    let turn = parameters[index + 1];
                    placed.curvature = turn / length;
                    let chord = ChordDerivatives::of_turn(turn);
                    let side = right_of(pose.direction);
                    let in_frame = |v: Vec2| pose.direction * v.x + side * v.y;
                    let unit_chord = in_frame(chord.chord);
                    let end = Pose {
                        point: pose.point + unit_chord * length,
                        direction: in_frame(chord.end_direction),
                    };
                    twists[index].velocity = unit_chord;
                    twists[index + 1] = Twist {
                        velocity: in_frame(chord.chord_per_turn) * length
                            - right_of(end.point - start),
                        rate: 1.0,
                    };
                    pose = end;
                }
            }
            pieces.push(placed);
        }
        Self {
            pieces,
            end: pose,
            twists,
        }
    }

    /// Both coordinates of the last point's residual.
    fn end_residuals(&self, last: Point) -> [(f64, Pull); 2] {
        let (away, arm) = (
            last - self.end.point,
            right_of(self.end.point - self.pieces[0].pose.point),
        );
        let along = |x: f64, y: f64| Pull([-x, -y, -(x * arm.x + y * arm.y)]);
        [(away.x, along(1.0, 0.0)), (away.y, along(0.0, 1.0))]
    }

    /// Half the gradient of the sum of squared residuals and half its
    /// Gauss–Newton matrix (lower triangle), with that sum, into `out`.
    ///
    /// A residual sees all parameters upstream through three numbers, its
    /// [`Pull`]. The products of these are summed piece by piece and spread
    /// over the parameters at the end: far less work than a row of
    /// derivatives for each residual.
    ///
    /// `weights` are those of the points in the sum; none: 1 each.
    pub(super) fn normal_equations(
        &self,
        points: &[Point],
        weights: &[f64],
        out: &mut NormalEquations,
    ) {
        let weight = |index: usize| weights.get(index).copied().unwrap_or(1.0);
        out.sum_of_squares = 0.0;
        let (Some((&first, rest)), start) = (points.split_first(), self.pieces[0].pose.point)
        else {
            return;
        };
        let mut own: [OwnSums; MAX_STRUCTURE] = Default::default();
        // Of the residuals downstream of a piece; first of the last point.
        let mut downstream = PullSums::default();
        if let Some((&last, between)) = rest.split_last() {
            let mut piece = 0;
            for (index, &point) in between.iter().enumerate() {
                piece = self.piece_beside(point, piece);
                let foot = self.pieces[piece].foot(point, start);
                let weight = weight(index + 1);
                out.sum_of_squares += weight * foot.distance * foot.distance;
                own[piece].add(&foot, weight);
            }
            let weight = weight(between.len() + 1);
            for (residual, pull) in self.end_residuals(last) {
                out.sum_of_squares += weight * residual * residual;
                downstream.add(residual, &pull, weight);
            }
        }
        for (placed, own) in self.pieces.iter().zip(&own).rev() {
            let width = if placed.kind == PieceKind::Arc { 2 } else { 1 };
            for (k, factor) in placed.own_derivatives()[..width].iter().enumerate() {
                let j = placed.parameter + k;
                let across = downstream.times(&self.twists[j]);
                let with_own: [f64; 3] =
                    std::array::from_fn(|axis| across[axis] + own.cross[axis] * factor);
                out.gradient[j] = self.twists[j].dot(&downstream.pulled) + factor * own.pulled;
                for i in 0..placed.parameter {
                    out.matrix[j][i] = self.twists[i].dot(&with_own);
                }
                for (i, other) in (placed.parameter..=j).zip(placed.own_derivatives()) {
                    out.matrix[j][i] = self.twists[i].dot(&across) + own.square * factor * other;
                }
            }
            downstream.merge(&own.upstream);
        }
        for j in 0..3 {
            let across = downstream.times(&self.twists[j]);
            out.gradient[j] = self.twists[j].dot(&downstream.pulled);
            for i in 0..=j {
                out.matrix[j][i] = self.twists[i].dot(&across);
            }
        }
        let away = first - start;
        let weight = weight(0);
        out.sum_of_squares += weight * away.hypot2();
        for (i, residual) in [away.x, away.y].into_iter().enumerate() {
            out.gradient[i] -= weight * residual;
            out.matrix[i][i] += weight;
        }
    }

    /// Index of the piece whose end normals enclose `point`, sought from the
    /// piece of the point before: traces are in order.
    fn piece_beside(&self, point: Point, from: usize) -> usize {
        let past_start = |index: usize| {
            let pose = &self.pieces[index].pose;
            (point - pose.point).dot(pose.direction) >= 0.0
        };
        let mut index = from;
        while index > 0 && !past_start(index) {
            index -= 1;
        }
        while index + 1 < self.pieces.len() && past_start(index + 1) {
            index += 1;
        }
        index
    }
}

impl Placed {
    /// Signed distance of `point` from the piece (prolonged), positive to the
    /// right, with what its derivatives are made of. By the envelope theorem
    /// the foot may be taken as fixed along its piece. `start` is that of the
    /// path.
    fn foot(&self, point: Point, start: Point) -> Foot {
        let Placed {
            pose, curvature, ..
        } = *self;
        let side = right_of(pose.direction);
        let away = point - pose.point;
        let (x, y) = (away.dot(pose.direction), away.dot(side));
        // Distance from a circle through the origin, without cancellation as
        // its curvature goes to zero.
        let power = curvature * (x * x + y * y) - 2.0 * y;
        let rho = (1.0 + curvature * power).max(0.0).sqrt();
        let distance = -power / (1.0 + rho);
        let (sine, cosine) = if rho > 0.0 {
            (curvature * x / rho, (1.0 - curvature * y) / rho)
        } else {
            (0.0, 1.0)
        };
        let tangent = pose.direction * cosine + side * sine;
        let normal = right_of(tangent);
        let foot = point - normal * distance;
        let sagitta = if rho > 0.0 {
            (x / rho).powi(2) / (1.0 + cosine).max(1e-9)
        } else {
            0.0
        };
        Foot {
            distance,
            pull: Pull([-normal.x, -normal.y, -tangent.dot(foot - start)]),
            sagitta,
        }
    }

    /// Derivatives of the curvature by the piece's length and, of an arc, its
    /// turn, with the sign of a residual.
    fn own_derivatives(&self) -> [f64; 2] {
        match self.kind {
            PieceKind::Straight => [0.0; 2],
            PieceKind::Arc => [self.curvature / self.length, -1.0 / self.length],
        }
    }
}

/// A point's residual on its piece.
struct Foot {
    distance: f64,
    pull: Pull,
    /// (1 − cos)/κ², the normal motion of the foot per unit of curvature.
    sagitta: f64,
}

/// Change of a residual per unit of a [`Twist`]'s velocity and rate.
struct Pull([f64; 3]);

impl Twist {
    fn dot(&self, other: &[f64; 3]) -> f64 {
        self.velocity.x * other[0] + self.velocity.y * other[1] + self.rate * other[2]
    }
}

/// Sums over residuals of the products of their pulls.
#[derive(Default)]
struct PullSums {
    products: [[f64; 3]; 3],
    /// Pull times residual.
    pulled: [f64; 3],
}

impl PullSums {
    fn add(&mut self, residual: f64, Pull(pull): &Pull, weight: f64) {
        for axis in 0..3 {
            let weighted = weight * pull[axis];
            self.pulled[axis] += weighted * residual;
            for (product, other) in self.products[axis].iter_mut().zip(pull) {
                *product += weighted * other;
            }
        }
    }

    fn merge(&mut self, other: &Self) {
        for axis in 0..3 {
            self.pulled[axis] += other.pulled[axis];
            for column in 0..3 {
                self.products[axis][column] += other.products[axis][column];
            }
        }
    }

    fn times(&self, twist: &Twist) -> [f64; 3] {
        std::array::from_fn(|axis| twist.dot(&self.products[axis]))
    }
}

/// Sums over the residuals of one piece.
#[derive(Default)]
struct OwnSums {
    /// What they say of the parameters upstream.
    upstream: PullSums,
    /// Sagitta times pull, times sagitta, times residual.
    cross: [f64; 3],
    square: f64,
    pulled: f64,
}

impl OwnSums {
    fn add(&mut self, foot: &Foot, weight: f64) {
        self.upstream.add(foot.distance, &foot.pull, weight);
        let weighted = weight * foot.sagitta;
        for axis in 0..3 {
            self.cross[axis] += weighted * foot.pull.0[axis];
        }
        self.square += weighted * foot.sagitta;
        self.pulled += weighted * foot.distance;
    }
}

/// What [`PlacedPath::normal_equations`] gives; entries beyond the structure's
/// parameters mean nothing.
#[derive(Default)]
pub(super) struct NormalEquations {
    pub sum_of_squares: f64,
    pub gradient: Row,
    /// Lower triangle.
    pub matrix: [Row; MAX_PARAMETERS],
}

/// The chord of an arc of unit length in the frame of its start.
struct ChordDerivatives {
    chord: Vec2,
    chord_per_turn: Vec2,
    end_direction: Vec2,
}

impl ChordDerivatives {
    fn of_turn(turn: f64) -> Self {
        let half = 0.5 * turn;
        let (sine, cosine) = half.sin_cos();
        let (sinc, sinc_slope) = if half.abs() < 1e-3 {
            (
                1.0 - half * half / 6.0,
                -half / 3.0 * (1.0 - half * half / 10.0),
            )
        } else {
            (sine / half, (cosine - sine / half) / half)
        };
        let along = Vec2::new(cosine, sine);
        Self {
            chord: along * sinc,
            chord_per_turn: (along * sinc_slope + right_of(along) * sinc) * 0.5,
            end_direction: Vec2::new(1.0 - 2.0 * sine * sine, 2.0 * sine * cosine),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both coordinates of the end points' residuals, and the distances between
    /// them, of a structure with these parameters.
    fn residuals(structure: &Structure, parameters: &Row, points: &[Point]) -> Vec<f64> {
        let placed = PlacedPath::new(structure, parameters);
        let start = placed.pieces[0].pose.point;
        let (first, last) = (points[0], points[points.len() - 1]);
        let mut residuals = vec![first.x - start.x, first.y - start.y];
        let mut piece = 0;
        for &point in &points[1..points.len() - 1] {
            piece = placed.piece_beside(point, piece);
            residuals.push(placed.pieces[piece].foot(point, start).distance);
        }
        residuals.extend(placed.end_residuals(last).map(|(residual, _)| residual));
        residuals
    }

    /// The sums piece by piece are those of the residuals and their central
    /// differences, one by one.
    #[test]
    fn normal_equations_are_those_of_the_residuals() {
        use PieceKind::{Arc, Straight};
        const STEP: f64 = 1e-5;
        let kinds = [Straight, Arc, Straight, Arc, Arc];
        let structure = Structure::new(&kinds).unwrap();
        let mut parameters = [0.0; MAX_PARAMETERS];
        let given = [3.0, -2.0, 1.1, 5.0, 4.0, 0.6, 2.0, 3.0, -0.5, 2.5, 0.3];
        parameters[..given.len()].copy_from_slice(&given);
        let placed = PlacedPath::new(&structure, &parameters);
        let path = structure.path(&parameters).unwrap();
        let points: Vec<_> = (0..14)
            .map(|i| {
                let pose = path.pose_at_length(path.length() * f64::from(i) / 13.0);
                let aside = 0.1 * f64::from(i * 7 % 5 - 2);
                pose.point + right_of(pose.direction) * aside
            })
            .collect();
        let moved = |parameter: usize, by: f64| {
            let mut moved = parameters;
            moved[parameter] += by;
            residuals(&structure, &moved, &points)
        };
        let columns: Vec<Vec<f64>> = (0..given.len())
            .map(|i| {
                let (ahead, behind) = (moved(i, STEP), moved(i, -STEP));
                let difference = |(a, b): (&f64, &f64)| (a - b) / (2.0 * STEP);
                ahead.iter().zip(&behind).map(difference).collect()
            })
            .collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let here = residuals(&structure, &parameters, &points);
        let mut found = NormalEquations::default();
        placed.normal_equations(&points, &[], &mut found);
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-8 * (1.0 + a.abs());
        assert!(near(dot(&here, &here), found.sum_of_squares));
        for i in 0..given.len() {
            let gradient = dot(&columns[i], &here);
            assert!(
                near(gradient, found.gradient[i]),
                "{i}: {gradient} {}",
                found.gradient[i]
            );
            for j in 0..=i {
                let (a, b) = (dot(&columns[i], &columns[j]), found.matrix[i][j]);
                assert!(near(a, b), "{i} {j}: {a} {b}");
            }
        }
    }
}
