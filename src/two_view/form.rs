//! What a path in space is made of, and the parameters that say how.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector3;

use super::path::{Piece, Pose, SpacePath};

/// What the curve is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Straight pieces with this many arcs between them.
    Arcs(usize),
    /// The same, the last one no arc but a bend that tightens evenly to its end.
    Tightening(usize),
    /// A canal that bends from orifice to apex to one side, its curvature growing
    /// or falling evenly and its plane turning evenly, by a quarter turn at most.
    Even,
    /// This many short arcs of equal length: a curve that no few arcs follow.
    Smooth(usize),
}

/// Parameters before those of the pieces: start (x, y, z), slopes, shift of
/// film B along the axis, length of the first piece (all of it where no piece
/// has a length of its own).
pub(super) const COMMON: usize = 7;
pub(super) const SHIFT: usize = 5;
pub(super) const FIRST_LENGTH: usize = 6;

/// Arcs that a bend which tightens is made of: within 0.05 mm, a click, of the
/// clothoid for a bend of 60° over 10 mm.
const TIGHTENING_ARCS: usize = 6;
/// The same of a canal that bends from orifice to apex: within 0.02 mm.
const EVEN_ARCS: usize = 12;

impl Form {
    /// Number of parameters.
    pub fn parameter_count(self) -> usize {
        match self {
            Self::Arcs(arcs) | Self::Tightening(arcs) => COMMON + 4 * arcs,
            Self::Even => COMMON + 4,
            Self::Smooth(arcs) => COMMON + 2 * arcs,
        }
    }

    /// The parameters of its arcs and the straight pieces after them, four each;
    /// none of the other forms.
    pub(super) fn arcs(self, p: &[f64]) -> &[f64] {
        match self {
            Self::Arcs(_) | Self::Tightening(_) => &p[COMMON..],
            Self::Even | Self::Smooth(_) => &[],
        }
    }

    /// How much more sharply its last bend bends at the end than on average.
    pub(super) fn last_tighter(self) -> f64 {
        match self {
            Self::Tightening(_) => 2.0 - 1.0 / TIGHTENING_ARCS as f64,
            _ => 1.0,
        }
    }

    pub(super) fn rebuild(self, p: &[f64], path: &mut SpacePath) {
        let start = Pose::new(Vector3::new(p[0], p[1], p[2]), [p[3], p[4]]);
        let straight = |length_mm: f64| Piece {
            length_mm,
            turn_rad: [0.0; 2],
        };
        match self {
            Self::Arcs(arcs) | Self::Tightening(arcs) => {
                let bends = p[COMMON..].chunks_exact(4).enumerate();
                let bends = bends.flat_map(|(i, bend)| {
                    let tightens = self == Self::Tightening(arcs) && i + 1 == arcs;
                    let count = if tightens { TIGHTENING_ARCS } else { 1 };
                    let arc = move |k: usize| {
                        // Odd numbers: the turning of an even growth from none.
                        let share = (2 * k + 1) as f64 / (count * count) as f64;
                        Piece {
                            length_mm: bend[0] / count as f64,
                            turn_rad: [bend[1], bend[2]].map(|turn| turn * share),
                        }
                    };
                    (0..count).map(arc).chain([straight(bend[3])])
                });
                path.rebuild(
                    start,
                    std::iter::once(straight(p[FIRST_LENGTH])).chain(bends),
                );
            }
            // Its turn; how far its curvature grows from the middle to the end,
            // relative, and how far its plane turns, over a quarter turn: both as
            // hyperbolic tangents, so that it is one bend to one side.
            Self::Even => {
                let [x, y, growth, twist] = [0, 1, 2, 3].map(|i| p[COMMON + i]);
                let (growth, twist) = (growth.tanh(), FRAC_PI_2 * twist.tanh());
                let count = EVEN_ARCS as f64;
                path.rebuild(
                    start,
                    (0..EVEN_ARCS).map(|k| {
                        let from_middle = (k as f64 + 0.5) / count - 0.5;
                        let size = (1.0 + 2.0 * growth * from_middle) / count;
                        let (sine, cosine) = (twist * from_middle).sin_cos();
                        Piece {
                            length_mm: p[FIRST_LENGTH] / count,
                            turn_rad: [x * cosine - y * sine, x * sine + y * cosine]
                                .map(|turn| turn * size),
                        }
                    }),
                );
            }
            Self::Smooth(arcs) => {
                let length_mm = p[FIRST_LENGTH] / arcs as f64;
                let turns = p[COMMON..].chunks_exact(2);
                path.rebuild(
                    start,
                    turns.map(|turn| Piece {
                        length_mm,
                        turn_rad: [turn[0], turn[1]],
                    }),
                );
            }
        }
    }

    pub(super) fn path(self, p: &[f64]) -> SpacePath {
        let mut path = SpacePath::new(Pose::new(Vector3::zeros(), [0.0; 2]), Vec::new());
        self.rebuild(p, &mut path);
        path
    }

    /// Least value of a parameter.
    pub(super) fn least(self, parameter: usize, shortest_arc: f64) -> f64 {
        match self {
            _ if parameter < FIRST_LENGTH => f64::NEG_INFINITY,
            Self::Even | Self::Smooth(_) if parameter == FIRST_LENGTH => 1.0,
            Self::Even | Self::Smooth(_) => f64::NEG_INFINITY,
            _ if parameter == FIRST_LENGTH => 0.0,
            Self::Arcs(_) | Self::Tightening(_) => match (parameter - COMMON) % 4 {
                0 => shortest_arc,
                3 => 0.0,
                _ => f64::NEG_INFINITY,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same clothoid as a canal that bends from its orifice.
    #[test]
    fn an_even_change_is_a_clothoid() {
        let (length, turn) = (10.0, 60f64.to_radians());
        let p = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, length, turn, 0.0, 20.0, 0.0];
        follows_clothoid(&Form::Even.path(&p), [0.0, length], turn, 0.02);
    }

    /// A bend of 60° over 10 mm whose curvature grows evenly from none: the
    /// Fresnel integrals by the midpoint rule.
    #[test]
    fn a_tightening_bend_is_a_clothoid() {
        let (length, turn) = (10.0, 60f64.to_radians());
        let p = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2.0, length, turn, 0.0, 0.0];
        let path = Form::Tightening(1).path(&p);
        assert!((path.length_mm() - 12.0).abs() < 1e-12);
        follows_clothoid(&path, [2.0, length], turn, 0.05);
    }

    fn follows_clothoid(path: &SpacePath, [from_mm, length]: [f64; 2], turn: f64, within: f64) {
        let mut place = Vector3::new(0.0, 0.0, from_mm);
        let steps = 10_000;
        for k in 0..steps {
            let heading = turn * ((f64::from(k) + 0.5) / f64::from(steps)).powi(2);
            let step = length / f64::from(steps);
            place += Vector3::new(heading.sin(), 0.0, heading.cos()) * step;
            if (k + 1) % 500 == 0 {
                let along = from_mm + f64::from(k + 1) * step;
                let off = (path.at(along).place - place).norm();
                assert!(off < within, "{along}: {off}");
            }
        }
        let end = path.end().direction;
        assert!((end.x.atan2(end.z) - turn).abs() < 1e-12);
    }
}
