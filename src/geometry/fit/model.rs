//! The path model: structures, their parameters, residuals and Jacobian rows.

use std::fmt;

use arrayvec::ArrayVec;
use kurbo::{Point, Vec2};

use crate::geometry::straight_arc_path::{MAX_ARCS, MAX_PIECES, Piece, Pose, StraightArcPath};
use crate::geometry::{GeometryError, right_of};

/// Most parameters of a path: start (2), heading, one for each straight piece
/// and two for each arc.
pub const MAX_PARAMETERS: usize = 3 + (MAX_ARCS + 1) + 2 * MAX_ARCS;

/// One value per parameter; entries beyond the structure's count are zero.
pub(super) type Row = [f64; MAX_PARAMETERS];

/// What a piece is, without its size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PieceKind {
    /// A straight piece: one parameter, its length.
    Straight,
    /// A circular arc: two parameters, its length and its turn.
    Arc,
}

/// The kinds of a path's pieces from start to end, no two straight ones
/// together. Shown with `S` for straight and `A` for arc, for example `SAS`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Structure(ArrayVec<PieceKind, MAX_PIECES>);

impl Structure {
    /// A structure of 1 to [`MAX_PIECES`] kinds with at most [`MAX_ARCS`] arcs and no
    /// two straight pieces together; `None` otherwise.
    pub fn new(kinds: &[PieceKind]) -> Option<Self> {
        let arcs = kinds.iter().filter(|&&kind| kind == PieceKind::Arc).count();
        let straight_pair = [PieceKind::Straight; 2];
        let fits = (1..=MAX_PIECES).contains(&kinds.len())
            && arcs <= MAX_ARCS
            && !kinds.windows(2).any(|pair| pair == straight_pair);
        fits.then(|| Self(kinds.iter().copied().collect()))
    }

    /// The kinds from start to end.
    pub fn kinds(&self) -> &[PieceKind] {
        &self.0
    }

    /// Number of arcs.
    pub fn arc_count(&self) -> usize {
        self.0
            .iter()
            .filter(|&&kind| kind == PieceKind::Arc)
            .count()
    }

    /// Number of free parameters.
    pub fn parameter_count(&self) -> usize {
        3 + self.0.len() + self.arc_count()
    }

    /// What each parameter is, in the order of parameters and covariance.
    pub fn parameters(&self) -> impl Iterator<Item = Parameter> {
        let of_piece = |(piece, &kind)| {
            let turn = (kind == PieceKind::Arc).then_some(Parameter::TurnRad { piece });
            std::iter::once(Parameter::Length { piece }).chain(turn)
        };
        [Parameter::StartX, Parameter::StartY, Parameter::HeadingRad]
            .into_iter()
            .chain(self.0.iter().enumerate().flat_map(of_piece))
    }

    /// Index of the first parameter of each piece, its length.
    pub(super) fn length_indices(&self) -> impl Iterator<Item = (PieceKind, usize)> {
        self.0.iter().scan(3, |next, &kind| {
            let index = *next;
            *next += if kind == PieceKind::Arc { 2 } else { 1 };
            Some((kind, index))
        })
    }

    /// The same arcs with a straight piece wherever one may stand, and the
    /// parameters of the same path: added pieces have no length.
    pub(super) fn with_all_straights(&self, parameters: &Row) -> (Self, Row) {
        let mut kinds = ArrayVec::new();
        let mut row = [0.0; MAX_PARAMETERS];
        row[..3].copy_from_slice(&parameters[..3]);
        let mut next = 3;
        let mut after_straight = false;
        for (kind, index) in self.length_indices() {
            if kind == PieceKind::Arc && !after_straight {
                kinds.push(PieceKind::Straight);
                next += 1;
            }
            kinds.push(kind);
            row[next] = parameters[index];
            next += 1;
            if kind == PieceKind::Arc {
                row[next] = parameters[index + 1];
                next += 1;
            }
            after_straight = kind == PieceKind::Straight;
        }
        if !after_straight {
            kinds.push(PieceKind::Straight);
        }
        (Self(kinds), row)
    }

    /// What is left of it without the straight pieces that have no length. The
    /// only piece stays.
    pub(super) fn without_empty_straights(&self, parameters: &Row) -> (Self, Row) {
        self.keeping(parameters, |_, kind, index| {
            kind == PieceKind::Arc || parameters[index] > 0.0 || self.0.len() == 1
        })
    }

    /// The pieces for which `keep(piece, kind, index of its length)` holds, with
    /// their parameters.
    fn keeping(
        &self,
        parameters: &Row,
        keep: impl Fn(usize, PieceKind, usize) -> bool,
    ) -> (Self, Row) {
        let mut kinds = ArrayVec::new();
        let mut row = [0.0; MAX_PARAMETERS];
        row[..3].copy_from_slice(&parameters[..3]);
        let mut next = 3;
        for (piece, (kind, index)) in self.length_indices().enumerate() {
            if keep(piece, kind, index) {
                let width = if kind == PieceKind::Arc { 2 } else { 1 };
                row[next..next + width].copy_from_slice(&parameters[index..index + width]);
                next += width;
                kinds.push(kind);
            }
        }
        (Self(kinds), row)
    }

    /// The structure without one of its straight pieces, whose length goes to
    /// the arcs beside it; `None` where there is none.
    pub(super) fn without(&self, straight: usize, parameters: &Row) -> Option<(Self, Row)> {
        let beside = |piece: usize| piece.abs_diff(straight) == 1 && piece < self.0.len();
        let neighbours = (0..self.0.len()).filter(|&piece| beside(piece)).count();
        if neighbours == 0 {
            return None;
        }
        let mut parameters = *parameters;
        let (_, length_index) = self.length_indices().nth(straight)?;
        let share = parameters[length_index] / neighbours as f64;
        for (piece, (_, index)) in self.length_indices().enumerate() {
            if beside(piece) {
                parameters[index] += share;
            }
        }
        Some(self.keeping(&parameters, |piece, _, _| piece != straight))
    }

    /// The path with these parameters.
    pub(super) fn path(&self, parameters: &Row) -> Result<StraightArcPath, GeometryError> {
        let piece = |(kind, index): (PieceKind, usize)| match kind {
            PieceKind::Straight => Piece::Straight {
                length: parameters[index],
            },
            PieceKind::Arc => Piece::Arc {
                length: parameters[index],
                turn_rad: parameters[index + 1],
            },
        };
        let pieces: ArrayVec<Piece, MAX_PIECES> = self.length_indices().map(piece).collect();
        StraightArcPath::new(
            Point::new(parameters[0], parameters[1]),
            parameters[2],
            &pieces,
        )
    }
}

impl fmt::Display for Structure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|kind| {
            f.write_str(match kind {
                PieceKind::Straight => "S",
                PieceKind::Arc => "A",
            })
        })
    }
}

/// A parameter of a fitted path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parameter {
    /// x of the start.
    StartX,
    /// y of the start.
    StartY,
    /// Heading at the start, rad.
    HeadingRad,
    /// Length of a piece.
    Length {
        /// Index of the piece.
        piece: usize,
    },
    /// Turn of an arc, rad.
    TurnRad {
        /// Index of the piece.
        piece: usize,
    },
}

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
    pieces: ArrayVec<Placed, MAX_PIECES>,
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
    pub(super) fn normal_equations(&self, points: &[Point], out: &mut NormalEquations) {
        out.sum_of_squares = 0.0;
        let (Some((&first, rest)), start) = (points.split_first(), self.pieces[0].pose.point)
        else {
            return;
        };
        let mut own: [OwnSums; MAX_PIECES] = Default::default();
        // Of the residuals downstream of a piece; first of the last point.
        let mut downstream = PullSums::default();
        if let Some((&last, between)) = rest.split_last() {
            let mut piece = 0;
            for &point in between {
                piece = self.piece_beside(point, piece);
                let foot = self.pieces[piece].foot(point, start);
                out.sum_of_squares += foot.distance * foot.distance;
                own[piece].add(&foot);
            }
            for (residual, pull) in self.end_residuals(last) {
                out.sum_of_squares += residual * residual;
                downstream.add(residual, &pull);
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
        out.sum_of_squares += away.hypot2();
        for (i, residual) in [away.x, away.y].into_iter().enumerate() {
            out.gradient[i] -= residual;
            out.matrix[i][i] += 1.0;
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
    fn add(&mut self, residual: f64, Pull(pull): &Pull) {
        for axis in 0..3 {
            self.pulled[axis] += pull[axis] * residual;
            for other in 0..3 {
                self.products[axis][other] += pull[axis] * pull[other];
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
    fn add(&mut self, foot: &Foot) {
        self.upstream.add(foot.distance, &foot.pull);
        for axis in 0..3 {
            self.cross[axis] += foot.sagitta * foot.pull.0[axis];
        }
        self.square += foot.sagitta * foot.sagitta;
        self.pulled += foot.sagitta * foot.distance;
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
        placed.normal_equations(&points, &mut found);
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
