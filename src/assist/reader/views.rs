//! Copies of the film that are read beside it: turned, mirrored and on coarser
//! cells. What is seen only one way round is not sure, and the copies' mean
//! says more than the film alone.

use super::layers::Planes;
use super::net;
use crate::assist::AssistError;
use crate::progress::Progress;

/// How a copy lies; each undoes itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    AsIs,
    Half,
    /// Left and right changed.
    Mirrored,
    /// Rows and columns changed.
    Transposed,
}

/// One copy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct View {
    pub turn: Turn,
    /// Size of its cells over that of the film's own.
    pub coarser: f64,
}

const fn view(turn: Turn, coarser: f64) -> View {
    View { turn, coarser }
}

/// Without a press. The scales lie within those that training varied films by.
pub(super) const UNASKED: &[View] = &[
    view(Turn::AsIs, 1.0),
    view(Turn::Half, 1.0),
    view(Turn::Mirrored, 1.1),
    view(Turn::Transposed, 1.2),
];
/// With a press on a file.
pub(super) const PRESSED_FILE: &[View] = &[view(Turn::AsIs, 1.0), view(Turn::Mirrored, 1.1)];
/// With presses on a canal.
pub(super) const PRESSED_CANAL: &[View] = &[view(Turn::AsIs, 1.0)];

/// What the net says of the six planes `input` when they are turned, turned
/// back.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn run(
    input: &Planes,
    turn: Turn,
    progress: &Progress,
) -> Result<net::Seen, AssistError> {
    if turn == Turn::AsIs {
        return net::run(input, progress);
    }
    let seen = net::run(&input_turned(input, turn), progress)?;
    Ok(net::Seen {
        logits: turned(&seen.logits, turn),
        deep: turned(&seen.deep, turn),
    })
}

/// Every plane turned.
fn turned(planes: &Planes, turn: Turn) -> Planes {
    let (width, height) = match turn {
        Turn::Transposed => (planes.height, planes.width),
        _ => (planes.width, planes.height),
    };
    let mut out = Planes::zeros(planes.count, width, height);
    for plane in 0..planes.count {
        for y in 0..height {
            let row = out.row_mut(plane, y);
            match turn {
                Turn::AsIs => row.copy_from_slice(planes.row(plane, y)),
                Turn::Half => {
                    row.copy_from_slice(planes.row(plane, planes.height - 1 - y));
                    row.reverse();
                }
                Turn::Mirrored => {
                    row.copy_from_slice(planes.row(plane, y));
                    row.reverse();
                }
                Turn::Transposed => {
                    for (x, value) in row.iter_mut().enumerate() {
                        *value = planes.row(plane, x)[y];
                    }
                }
            }
        }
    }
    out
}

/// The input turned: its first four planes are the cells of each two by two
/// (row by row), and change places.
fn input_turned(input: &Planes, turn: Turn) -> Planes {
    let from = match turn {
        Turn::AsIs => [0, 1, 2, 3],
        Turn::Half => [3, 2, 1, 0],
        Turn::Mirrored => [1, 0, 3, 2],
        Turn::Transposed => [0, 2, 1, 3],
    };
    let turned = turned(input, turn);
    let mut out = Planes::zeros(turned.count, turned.width, turned.height);
    for plane in 0..turned.count {
        let from = from.get(plane).copied().unwrap_or(plane);
        for y in 0..turned.height {
            out.row_mut(plane, y).copy_from_slice(turned.row(from, y));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers without any order.
    fn scattered(count: usize, width: usize, height: usize) -> Planes {
        let mut planes = Planes::zeros(count, width, height);
        let mut state = 1u32;
        for plane in 0..count {
            for y in 0..height {
                for value in planes.row_mut(plane, y) {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    *value = (state >> 8) as f32 / (1 << 24) as f32 - 0.5;
                }
            }
        }
        planes
    }

    /// The fine cells that four planes stand for, turned as a picture is.
    #[test]
    fn a_turned_input_is_that_of_the_turned_film() {
        let (width, height) = (5, 3);
        let input = scattered(6, width, height);
        let fine =
            |planes: &Planes, x: usize, y: usize| planes.row(2 * (y % 2) + x % 2, y / 2)[x / 2];
        for turn in [Turn::AsIs, Turn::Half, Turn::Mirrored, Turn::Transposed] {
            let out = input_turned(&input, turn);
            for y in 0..2 * out.height {
                for x in 0..2 * out.width {
                    let (u, v) = match turn {
                        Turn::AsIs => (x, y),
                        Turn::Half => (2 * width - 1 - x, 2 * height - 1 - y),
                        Turn::Mirrored => (2 * width - 1 - x, y),
                        Turn::Transposed => (y, x),
                    };
                    assert_eq!(fine(&out, x, y), fine(&input, u, v), "{turn:?} {x} {y}");
                }
            }
            let again = input_turned(&out, turn);
            for plane in 0..6 {
                for y in 0..height {
                    assert_eq!(again.row(plane, y), input.row(plane, y));
                }
            }
        }
    }

    /// A copy is read the other way round, and what it says lies on the film.
    #[test]
    fn what_a_turned_copy_says_is_turned_back() {
        let input = scattered(6, 64, 32);
        let progress = Progress::unwatched();
        for turn in [Turn::Half, Turn::Mirrored, Turn::Transposed] {
            let seen = run(&input, turn, &progress).unwrap();
            assert_eq!((seen.logits.width, seen.logits.height), (64, 32));
            assert_eq!((seen.deep.width, seen.deep.height), (2, 1));
            let direct = net::run(&input_turned(&input, turn), &progress).unwrap();
            let corner = match turn {
                Turn::Half => direct.logits.row(3, 31)[63],
                Turn::Mirrored => direct.logits.row(3, 0)[63],
                _ => direct.logits.row(3, 0)[0],
            };
            assert_eq!(seen.logits.row(3, 0)[0], corner);
        }
    }
}
