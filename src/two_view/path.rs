//! A curve in space of straight pieces and arcs, each leaving in the direction
//! in which the one before ended; every arc in a plane of its own.

use nalgebra::Vector3;

/// A straight piece (no turn) or an arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Length along the piece, mm.
    pub length_mm: f64,
    /// Turn as a vector: its size in rad, its direction where the piece bends
    /// to, in the two directions across the path that travel along with it
    /// without twisting.
    pub turn_rad: [f64; 2],
}

/// A place on a path with the direction of travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    pub place: Vector3<f64>,
    /// Unit vector, apically.
    pub direction: Vector3<f64>,
    /// Unit vectors across the path, carried along without twisting.
    across: [Vector3<f64>; 2],
}

impl Pose {
    /// A start whose direction is (`slopes`, 1), made a unit vector.
    pub fn new(place: Vector3<f64>, slopes: [f64; 2]) -> Self {
        let direction = Vector3::new(slopes[0], slopes[1], 1.0).normalize();
        // x made perpendicular to the direction; y completes the frame. A path
        // runs apically, so the direction is never near x.
        let first = (Vector3::x() - direction * direction.x).normalize();
        Self {
            place,
            direction,
            across: [first, direction.cross(&first)],
        }
    }

    /// The pose `length_mm` further along an arc that turns by `turn_rad`.
    pub fn advanced(&self, length_mm: f64, turn_rad: [f64; 2]) -> Self {
        let angle = turn_rad[0].hypot(turn_rad[1]);
        if angle < 1e-12 {
            return Self {
                place: self.place + self.direction * length_mm,
                ..*self
            };
        }
        let inward = (self.across[0] * turn_rad[0] + self.across[1] * turn_rad[1]) / angle;
        let (sine, cosine) = angle.sin_cos();
        let radius = length_mm / angle;
        let half = (0.5 * angle).sin();
        let direction = self.direction * cosine + inward * sine;
        // Rotation about the arc's axis: only the part along `inward` changes.
        let turned = |v: Vector3<f64>| {
            let along = v.dot(&inward);
            v + inward * (along * (cosine - 1.0)) - self.direction * (along * sine)
        };
        Self {
            place: self.place
                + self.direction * (radius * sine)
                + inward * (radius * 2.0 * half * half),
            direction,
            across: [turned(self.across[0]), turned(self.across[1])],
        }
    }

    /// The turn vector, in this pose's own directions, that leads to
    /// `direction`.
    pub fn turn_towards(&self, direction: &Vector3<f64>) -> [f64; 2] {
        let aside = direction - self.direction * direction.dot(&self.direction);
        let size = aside.norm();
        if size < 1e-15 {
            return [0.0; 2];
        }
        let angle = size.atan2(direction.dot(&self.direction));
        [0, 1].map(|i| aside.dot(&self.across[i]) / size * angle)
    }
}

/// A path through space.
#[derive(Clone, Debug, PartialEq)]
pub struct SpacePath {
    pieces: Vec<Piece>,
    /// Pose at the start of each piece, then at the end.
    poses: Vec<Pose>,
    /// Length from the start to each of `poses`, mm.
    lengths: Vec<f64>,
}

impl SpacePath {
    /// The path from `start` over `pieces`.
    pub fn new(start: Pose, pieces: Vec<Piece>) -> Self {
        let mut path = Self {
            pieces: Vec::new(),
            poses: Vec::new(),
            lengths: Vec::new(),
        };
        path.rebuild(start, pieces);
        path
    }

    /// Replaces the path, reusing its memory.
    pub fn rebuild(&mut self, start: Pose, pieces: impl IntoIterator<Item = Piece>) {
        self.pieces.clear();
        self.pieces.extend(pieces);
        self.poses.clear();
        self.lengths.clear();
        let (mut pose, mut length) = (start, 0.0);
        self.poses.push(pose);
        self.lengths.push(length);
        for piece in &self.pieces {
            pose = pose.advanced(piece.length_mm, piece.turn_rad);
            length += piece.length_mm;
            self.poses.push(pose);
            self.lengths.push(length);
        }
    }

    /// Its pieces, from the orifice.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        self.lengths[self.pieces.len()]
    }

    /// Length from the start to the start of a piece (its number of pieces:
    /// to the end), mm.
    pub fn length_to_piece_mm(&self, piece: usize) -> f64 {
        self.lengths[piece]
    }

    /// Direction at the start of a piece.
    pub fn direction_at_piece(&self, piece: usize) -> Vector3<f64> {
        self.poses[piece].direction
    }

    /// Start of the path.
    pub fn start(&self) -> Pose {
        self.poses[0]
    }

    /// End of the path.
    pub fn end(&self) -> Pose {
        self.poses[self.pieces.len()]
    }

    /// Place and direction `along_mm` from the start; straight on before and
    /// beyond.
    pub fn at(&self, along_mm: f64) -> Pose {
        if along_mm <= 0.0 {
            return self.start().advanced(along_mm, [0.0; 2]);
        }
        let beyond = along_mm - self.length_mm();
        if beyond >= 0.0 {
            return self.end().advanced(beyond, [0.0; 2]);
        }
        let next = self.lengths.partition_point(|&l| l <= along_mm);
        let index = next.clamp(1, self.pieces.len()) - 1;
        let piece = self.pieces[index];
        let part = (along_mm - self.lengths[index]) / piece.length_mm;
        let turn = piece.turn_rad.map(|t| t * part);
        self.poses[index].advanced(along_mm - self.lengths[index], turn)
    }

    /// Places at most `step_mm` apart, from start to end.
    pub fn places(&self, step_mm: f64) -> Vec<Vector3<f64>> {
        let count = (self.length_mm() / step_mm).ceil().clamp(1.0, 10_000.0) as usize;
        (0..=count)
            .map(|i| self.at(self.length_mm() * i as f64 / count as f64).place)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: an arc of radius 8 and 40° in a plane turned by 30° ends at
    /// R (1 − cos θ) aside and R sin θ down.
    #[test]
    fn an_arc_in_a_turned_plane() {
        let (radius, turn, plane) = (8.0, 40f64.to_radians(), 30f64.to_radians());
        let start = Pose::new(Vector3::new(1.0, 2.0, 3.0), [0.0, 0.0]);
        let arc = Piece {
            length_mm: radius * turn,
            turn_rad: [turn * plane.cos(), turn * plane.sin()],
        };
        let path = SpacePath::new(start, vec![arc]);
        let aside = radius * (1.0 - turn.cos());
        let expected = Vector3::new(
            1.0 + aside * plane.cos(),
            2.0 + aside * plane.sin(),
            3.0 + radius * turn.sin(),
        );
        assert!((path.end().place - expected).norm() < 1e-12);
        let half = path.at(0.5 * path.length_mm()).direction;
        assert!((half.z - (0.5 * turn).cos()).abs() < 1e-12);
        let again = path.start().turn_towards(&path.end().direction);
        assert!((again[0] - arc.turn_rad[0]).abs() < 1e-12);
        assert!((again[1] - arc.turn_rad[1]).abs() < 1e-12);
    }

    /// The carried directions stay at right angles.
    #[test]
    fn the_frame_stays_orthonormal() {
        let mut pose = Pose::new(Vector3::zeros(), [0.2, -0.4]);
        for i in 0..200 {
            let turn = f64::from(i) * 0.37;
            pose = pose.advanced(0.1, [0.05 * turn.cos(), 0.05 * turn.sin()]);
        }
        let [a, b] = pose.across;
        for (left, right, dot) in [
            (a, a, 1.0),
            (b, b, 1.0),
            (a, b, 0.0),
            (a, pose.direction, 0.0),
            (b, pose.direction, 0.0),
            (pose.direction, pose.direction, 1.0),
        ] {
            assert!((left.dot(&right) - dot).abs() < 1e-12);
        }
    }
}
