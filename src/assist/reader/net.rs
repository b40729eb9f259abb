//! The reader's layers and their weights (`tests/scripts/train_reader.py`).

use std::sync::OnceLock;

use super::layers::{Layer, Planes};
use crate::assist::AssistError;
use crate::progress::Progress;

/// 16-bit floats: of each layer the weights, then the biases.
const WEIGHTS: &[u8] = include_bytes!("weights.bin");
static ON_TRIAL: OnceLock<Vec<u8>> = OnceLock::new();

/// Puts weights on trial in place of those built in, until the program ends;
/// false where that has been done, or they are of another size.
pub fn try_weights(bytes: Vec<u8>) -> bool {
    bytes.len() == WEIGHTS.len() && ON_TRIAL.set(bytes).is_ok()
}
/// Inputs, outputs and filter size of each layer, in the file's order.
const SHAPES: [[usize; 3]; 21] = [
    [4, 16, 3],
    [16, 16, 3],
    [16, 32, 3],
    [32, 32, 3],
    [32, 48, 3],
    [48, 48, 3],
    [48, 64, 3],
    [64, 64, 3],
    [64, 64, 3],
    [64, 64, 3],
    [64, 64, 3],
    [64, 64, 1],
    [64, 64, 3],
    [64, 48, 1],
    [48, 48, 3],
    [48, 32, 1],
    [32, 32, 3],
    [32, 16, 1],
    [16, 16, 3],
    [16, 16, 3],
    [16, 5, 1],
];

/// A 16-bit float (IEEE 754 binary16) as `f32`.
fn from_half(bits: u16) -> f32 {
    let sign = if bits >> 15 == 1 { -1.0 } else { 1.0 };
    let fraction = f32::from(bits & 0x3FF);
    match (bits >> 10) & 0x1F {
        0 => sign * fraction * 2f32.powi(-24),
        31 => sign * f32::INFINITY,
        exponent => sign * (1.0 + fraction / 1024.0) * 2f32.powi(i32::from(exponent) - 15),
    }
}

fn layers() -> Vec<Layer> {
    let weights = ON_TRIAL.get().map_or(WEIGHTS, Vec::as_slice);
    let (pairs, _) = weights.as_chunks::<2>();
    let mut values = pairs.iter().map(|b| from_half(u16::from_le_bytes(*b)));
    SHAPES
        .iter()
        .map(|&[inputs, outputs, size]| Layer {
            inputs,
            outputs,
            size,
            weights: values
                .by_ref()
                .take(inputs * outputs * size * size)
                .collect(),
            biases: values.by_ref().take(outputs).collect(),
        })
        .collect()
}

/// The five maps (before the logistic function) for the four planes `input`.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn run(input: &Planes, progress: &Progress) -> Result<Planes, AssistError> {
    let net = layers();
    let step = |layer: usize, planes: &Planes, stride: usize| -> Result<Planes, AssistError> {
        progress.check()?;
        Ok(net[layer].apply(planes, stride, true))
    };
    let s0 = step(1, &step(0, input, 1)?, 1)?;
    let s1 = step(3, &step(2, &s0, 2)?, 1)?;
    let s2 = step(5, &step(4, &s1, 2)?, 1)?;
    let s3 = step(7, &step(6, &s2, 2)?, 1)?;
    let mut coarse = step(10, &step(9, &step(8, &s3, 2)?, 1)?, 1)?;
    for (layer, mut fine) in [(11, s3), (13, s2), (15, s1), (17, s0)] {
        fine.join(&net[layer].apply(&coarse, 1, false));
        coarse = step(layer + 1, &fine, 1)?;
    }
    let last = step(19, &coarse, 1)?;
    Ok(net[20].apply(&last, 1, false))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_read_by_the_standard() {
        for (bits, value) in [
            (0x3C00, 1.0),
            (0xC000, -2.0),
            (0x3555, 0.333_251_95),
            (0x0001, 5.960_464_5e-8),
        ] {
            assert_eq!(from_half(bits), value);
        }
        let count: usize = SHAPES.iter().map(|[i, o, k]| i * o * k * k + o).sum();
        assert_eq!(WEIGHTS.len(), 2 * count);
    }
}
