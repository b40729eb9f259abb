//! Structures of straight pieces and arcs, and their parameters.

use std::fmt;

use arrayvec::ArrayVec;
use kurbo::Point;

use crate::geometry::GeometryError;
use crate::geometry::straight_arc_path::{MAX_ARCS, Piece, StraightArcPath};

/// Most pieces of a structure: arcs with a straight piece around each.
pub(super) const MAX_STRUCTURE: usize = 2 * MAX_ARCS + 1;

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
pub struct Structure(ArrayVec<PieceKind, MAX_STRUCTURE>);

impl Structure {
    /// A structure of 1 to seven kinds with at most [`MAX_ARCS`] arcs and no
    /// two straight pieces together; `None` otherwise.
    pub fn new(kinds: &[PieceKind]) -> Option<Self> {
        let arcs = kinds.iter().filter(|&&kind| kind == PieceKind::Arc).count();
        let straight_pair = [PieceKind::Straight; 2];
        let fits = (1..=MAX_STRUCTURE).contains(&kinds.len())
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
        let pieces: ArrayVec<Piece, MAX_STRUCTURE> = self.length_indices().map(piece).collect();
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
