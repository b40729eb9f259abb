//! The film read as it is and turned by half: what is seen only one way round
//! is not sure, and two readings that differ give a lower mean.

use super::layers::Planes;
use super::net;
use crate::assist::AssistError;
use crate::progress::Progress;

/// Which ways round a film is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Views {
    /// As it is.
    One,
    /// And turned by half.
    Two,
}

/// The five maps (before the logistic function) for the six planes `input`:
/// their mean over the views.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn run(
    input: &Planes,
    views: Views,
    progress: &Progress,
) -> Result<Planes, AssistError> {
    let mut mean = net::run(input, progress)?;
    if views == Views::Two {
        let turned = half_turned(&net::run(&input_half_turned(input), progress)?);
        for plane in 0..mean.count {
            for y in 0..mean.height {
                let pair = mean.row_mut(plane, y).iter_mut().zip(turned.row(plane, y));
                pair.for_each(|(a, b)| *a = 0.5 * (*a + b));
            }
        }
    }
    Ok(mean)
}

/// Every plane turned by half.
fn half_turned(planes: &Planes) -> Planes {
    let mut out = Planes::zeros(planes.count, planes.width, planes.height);
    for plane in 0..planes.count {
        for y in 0..planes.height {
            let row = out.row_mut(plane, y);
            row.copy_from_slice(planes.row(plane, planes.height - 1 - y));
            row.reverse();
        }
    }
    out
}

/// The input turned by half: its first four planes are the cells of each two
/// by two, and change places.
fn input_half_turned(input: &Planes) -> Planes {
    let turned = half_turned(input);
    let mut out = Planes::zeros(turned.count, turned.width, turned.height);
    for plane in 0..turned.count {
        let from = if plane < 4 { 3 - plane } else { plane };
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

    #[test]
    fn turning_the_film_turns_what_two_views_say() {
        let input = scattered(6, 64, 32);
        let progress = Progress::unwatched();
        let seen = run(&input, Views::Two, &progress).unwrap();
        let again = run(&input_half_turned(&input), Views::Two, &progress).unwrap();
        let again = half_turned(&again);
        let one = run(&input, Views::One, &progress).unwrap();
        let mut differs = false;
        for plane in 0..seen.count {
            for y in 0..seen.height {
                let rows = seen.row(plane, y).iter().zip(again.row(plane, y));
                for (a, b) in rows {
                    assert!((a - b).abs() < 1e-4, "{a} {b}");
                }
                differs |= seen.row(plane, y) != one.row(plane, y);
            }
        }
        assert!(differs, "one view alone is not the mean of two");
    }
}
