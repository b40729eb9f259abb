//! Tangent-continuous paths of straight pieces and circular arcs.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use kurbo::{Arc, BezPath, PathEl, Point, Vec2};

use super::{GeometryError, LARGEST_COORDINATE, Projection, right_of};

/// Most arcs of a fitted path.
pub const MAX_ARCS: usize = 3;
/// Most pieces of a path: a smooth one is made of many short arcs.
pub const MAX_PIECES: usize = 28;

/// One piece of a [`StraightArcPath`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// A straight piece.
    Straight {
        /// Length, not negative.
        length: f64,
    },
    /// A circular arc.
    Arc {
        /// Length along the arc, not negative.
        length: f64,
        /// Change of heading over the arc, rad, positive clockwise on the
        /// film.
        turn_rad: f64,
    },
}

impl Piece {
    /// Length along the piece.
    pub fn length(&self) -> f64 {
        match *self {
            Self::Straight { length } | Self::Arc { length, .. } => length,
        }
    }

    /// Change of heading over the piece, rad.
    pub fn turn_rad(&self) -> f64 {
        match *self {
            Self::Straight { .. } => 0.0,
            Self::Arc { turn_rad, .. } => turn_rad,
        }
    }

    /// Signed curvature, rad per unit length; infinite for an arc without
    /// length (a kink).
    pub fn curvature(&self) -> f64 {
        match *self {
            Self::Arc { length, turn_rad } if turn_rad != 0.0 => turn_rad / length,
            _ => 0.0,
        }
    }

    fn is_valid(&self) -> bool {
        (0.0..=LARGEST_COORDINATE).contains(&self.length()) && self.turn_rad().abs() < 1e6
    }
}

/// A place on a path with the direction of travel there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// The place.
    pub point: Point,
    /// Unit direction of travel.
    pub direction: Vec2,
}

impl Pose {
    /// The pose at `point` with heading `heading_rad`.
    pub fn new(point: Point, heading_rad: f64) -> Self {
        Self {
            point,
            direction: Vec2::from_angle(heading_rad),
        }
    }

    /// Heading, rad in (−π, π].
    pub fn heading_rad(&self) -> f64 {
        self.direction.atan2()
    }

    /// The pose `length` further on a circle that turns `turn_rad` over it.
    pub fn advanced(&self, length: f64, turn_rad: f64) -> Self {
        if turn_rad == 0.0 {
            return Self {
                point: self.point + self.direction * length,
                ..*self
            };
        }
        let (sine, cosine) = (0.5 * turn_rad).sin_cos();
        // The chord is sinc(turn/2) times the arc and turned by half the turn.
        let chord = length * sine / (0.5 * turn_rad);
        let side = right_of(self.direction);
        Self {
            point: self.point + (self.direction * cosine + side * sine) * chord,
            direction: self.direction * (1.0 - 2.0 * sine * sine) + side * (2.0 * sine * cosine),
        }
    }
}

/// A path of straight pieces and arcs without corners; headings in rad,
/// positive turns clockwise on the film, lengths in the unit of its points.
#[derive(Clone, Debug, PartialEq)]
pub struct StraightArcPath {
    heading_rad: f64,
    pieces: ArrayVec<Piece, MAX_PIECES>,
    /// Pose at the start of each piece, then at the end of the path.
    poses: ArrayVec<Pose, { MAX_PIECES + 1 }>,
    /// Length from the start to each of `poses`.
    lengths: ArrayVec<f64, { MAX_PIECES + 1 }>,
    /// First and last piece of each bend; empty where each arc speaks for
    /// itself.
    bends: ArrayVec<[usize; 2], MAX_ARCS>,
}

impl StraightArcPath {
    /// The path from `start` in direction `heading_rad` over `pieces`.
    ///
    /// # Errors
    /// [`GeometryError::PieceCount`] without pieces or with more than
    /// [`MAX_PIECES`]; [`GeometryError::InvalidPiece`] and
    /// [`GeometryError::NotFinite`] for values that are no place or length.
    pub fn new(start: Point, heading_rad: f64, pieces: &[Piece]) -> Result<Self, GeometryError> {
        if pieces.is_empty() || pieces.len() > MAX_PIECES {
            return Err(GeometryError::PieceCount {
                given: pieces.len(),
            });
        }
        let usable = |v: f64| v.abs() <= LARGEST_COORDINATE;
        if !(usable(start.x) && usable(start.y) && heading_rad.is_finite()) {
            return Err(GeometryError::NotFinite { index: 0 });
        }
        if let Some(index) = pieces.iter().position(|piece| !piece.is_valid()) {
            return Err(GeometryError::InvalidPiece { index });
        }
        let mut pose = Pose::new(start, heading_rad);
        let mut length = 0.0;
        let mut path = Self {
            heading_rad,
            pieces: pieces.iter().copied().collect(),
            poses: ArrayVec::from_iter([pose]),
            lengths: ArrayVec::from_iter([length]),
            bends: ArrayVec::new(),
        };
        for piece in pieces {
            pose = pose.advanced(piece.length(), piece.turn_rad());
            length += piece.length();
            path.poses.push(pose);
            path.lengths.push(length);
        }
        Ok(path)
    }

    /// The same path, its arcs taken together: first and last piece of each
    /// bend, from the start. Within a bend the curvature may waver; its turn is
    /// that from its start to its end.
    pub fn with_bends(mut self, bends: &[[usize; 2]]) -> Self {
        let valid = |bend: &&[usize; 2]| bend[0] <= bend[1] && bend[1] < self.pieces.len();
        self.bends = bends.iter().filter(valid).take(MAX_ARCS).copied().collect();
        self
    }

    /// First and last piece of each bend of a smooth path; empty where each arc
    /// speaks for itself.
    pub fn bends(&self) -> &[[usize; 2]] {
        &self.bends
    }

    /// Everything about the origin times `factor`, for example from one frame
    /// into another; `None` where the lengths or places are then none.
    pub fn scaled(&self, factor: f64) -> Option<Self> {
        let mut path = self.clone();
        for piece in &mut path.pieces {
            match piece {
                Piece::Straight { length } | Piece::Arc { length, .. } => *length *= factor,
            }
        }
        for pose in &mut path.poses {
            pose.point = (pose.point.to_vec2() * factor).to_point();
        }
        for length in &mut path.lengths {
            *length *= factor;
        }
        let start = path.start();
        let usable = |v: f64| v.abs() <= LARGEST_COORDINATE;
        let valid = usable(start.x) && usable(start.y) && path.pieces.iter().all(Piece::is_valid);
        valid.then_some(path)
    }

    /// First place.
    pub fn start(&self) -> Point {
        self.poses[0].point
    }

    /// Last place.
    pub fn end(&self) -> Point {
        self.poses[self.pieces.len()].point
    }

    /// Heading at the start, rad.
    pub fn heading_rad(&self) -> f64 {
        self.heading_rad
    }

    /// The pieces from start to end.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Pose at the start of each piece and, last, at the end of the path.
    pub fn poses(&self) -> &[Pose] {
        &self.poses
    }

    /// Length from the start to each of [`StraightArcPath::poses`].
    pub fn lengths_at_poses(&self) -> &[f64] {
        &self.lengths
    }

    /// Number of arcs.
    pub fn arc_count(&self) -> usize {
        self.pieces
            .iter()
            .filter(|piece| matches!(piece, Piece::Arc { .. }))
            .count()
    }

    /// Length from start to end.
    pub fn length(&self) -> f64 {
        self.lengths[self.pieces.len()]
    }

    /// Signed sum of all turns, rad.
    pub fn turn_rad(&self) -> f64 {
        self.pieces.iter().map(Piece::turn_rad).sum()
    }

    /// Place and direction at `length` from the start; straight on beyond
    /// both ends.
    pub fn pose_at_length(&self, length: f64) -> Pose {
        if length <= 0.0 {
            return self.poses[0].advanced(length, 0.0);
        }
        if length >= self.length() {
            return self.poses[self.pieces.len()].advanced(length - self.length(), 0.0);
        }
        let index = self.piece_at_length(length);
        let along = length - self.lengths[index];
        self.poses[index].advanced(along, self.pieces[index].curvature() * along)
    }

    /// The place at `length` from the start.
    pub fn point_at_length(&self, length: f64) -> Point {
        self.pose_at_length(length).point
    }

    /// Heading at `length` from the start, rad, counted on from
    /// [`StraightArcPath::heading_rad`] without jumps of a full turn.
    pub fn heading_at_length_rad(&self, length: f64) -> f64 {
        let turned = |(piece, &from): (&Piece, &f64)| match *piece {
            Piece::Straight { .. } => 0.0,
            Piece::Arc { turn_rad, .. } if length >= from + piece.length() => turn_rad,
            Piece::Arc { .. } => piece.curvature() * (length - from).max(0.0),
        };
        self.heading_rad
            + self
                .pieces
                .iter()
                .zip(&self.lengths)
                .map(turned)
                .sum::<f64>()
    }

    /// Signed curvature at `length` from the start, rad per unit length; zero
    /// beyond both ends, at a joint that of the piece after it.
    pub fn curvature_at_length(&self, length: f64) -> f64 {
        if (0.0..=self.length()).contains(&length) {
            self.pieces[self.piece_at_length(length)].curvature()
        } else {
            0.0
        }
    }

    /// The nearest place on the path or its straight prolongations.
    pub fn project(&self, point: Point) -> Projection {
        let last = self.pieces.len() - 1;
        let mut nearest: Option<Projection> = None;
        let away: ArrayVec<f64, { MAX_PIECES + 1 }> =
            self.poses.iter().map(|p| p.point.distance(point)).collect();
        // The foot is no farther than any end of a piece.
        let within = away.iter().copied().fold(f64::INFINITY, f64::min) * (1.0 + 1e-9);
        for (index, piece) in self.pieces.iter().enumerate() {
            // Nor is a place on a piece nearer than its length lets it be.
            let least = 0.5 * (away[index] + away[index + 1] - piece.length());
            if least > within && index != 0 && index != last {
                continue;
            }
            let pose = &self.poses[index];
            let foot = foot_on_circle(pose, piece.curvature(), point);
            let mut candidates = ArrayVec::<f64, 4>::new();
            candidates.push(foot.min(piece.length()).max(0.0));
            if foot < 0.0 && piece.turn_rad().abs() > PI {
                candidates.push((foot + 2.0 * PI / piece.curvature().abs()).min(piece.length()));
            }
            // Prolongations: backwards before the first piece, on after the last.
            if index == 0 {
                candidates.push((point - pose.point).dot(pose.direction).min(0.0));
            }
            if index == last {
                let end = &self.poses[index + 1];
                let beyond = (point - end.point).dot(end.direction).max(0.0);
                candidates.push(piece.length() + beyond);
            }
            for along in candidates {
                let length_at = self.lengths[index] + along;
                let foot = if along < 0.0 {
                    pose.advanced(along, 0.0)
                } else if along <= piece.length() {
                    pose.advanced(along, piece.curvature_over(along))
                } else {
                    self.poses[index + 1].advanced(along - piece.length(), 0.0)
                };
                let projection = Projection::new(length_at, foot.point, foot.direction, point);
                if nearest.is_none_or(|n| projection.distance() < n.distance()) {
                    nearest = Some(projection);
                }
            }
        }
        nearest.expect("a path has at least one piece")
    }

    /// The path as Bézier segments that stay within `tolerance` of it.
    pub fn to_bez_path(&self, tolerance: f64) -> BezPath {
        let mut path = BezPath::new();
        path.move_to(self.start());
        for (index, piece) in self.pieces.iter().enumerate() {
            match *piece {
                Piece::Arc { length, turn_rad } if turn_rad != 0.0 && length > 0.0 => {
                    let pose = &self.poses[index];
                    let to_start = -right_of(pose.direction) * (length / turn_rad);
                    let arc = Arc::new(
                        pose.point - to_start,
                        Vec2::splat(to_start.hypot()),
                        to_start.atan2(),
                        turn_rad,
                        0.0,
                    );
                    path.extend(arc.append_iter(tolerance));
                }
                _ => path.push(PathEl::LineTo(self.poses[index + 1].point)),
            }
        }
        path
    }

    /// Index of the piece at `length`, which lies within the path.
    fn piece_at_length(&self, length: f64) -> usize {
        let ends = &self.lengths[1..self.pieces.len()];
        ends.iter().filter(|&&end| end <= length).count()
    }
}

impl Piece {
    /// Turn over the first `along` of the piece, rad.
    fn curvature_over(&self, along: f64) -> f64 {
        match *self {
            Self::Arc { length, turn_rad } if length > 0.0 => turn_rad * (along / length),
            _ => self.turn_rad(),
        }
    }
}

/// Length along the circle of curvature `curvature` from `pose` to the foot
/// of `point`, in (−π, π]/|curvature|; robust as the curvature goes to zero.
fn foot_on_circle(pose: &Pose, curvature: f64, point: Point) -> f64 {
    let away = point - pose.point;
    let (x, y) = (away.dot(pose.direction), away.dot(right_of(pose.direction)));
    let angle = (curvature * x).atan2(1.0 - curvature * y);
    if angle.abs() < 1e-9 && curvature * y < 0.5 {
        x / (1.0 - curvature * y)
    } else {
        angle / curvature
    }
}
