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
const SHAPES: [[usize; 3]; 25] = [
    [6, 24, 3],
    [24, 24, 3],
    [24, 40, 3],
    [40, 40, 3],
    [40, 64, 3],
    [64, 64, 3],
    [64, 80, 3],
    [80, 80, 3],
    [80, 96, 3],
    [96, 96, 3],
    [96, 96, 3],
    [96, 96, 3],
    [96, 96, 3],
    [96, 96, 1],
    [96, 96, 3],
    [96, 80, 1],
    [80, 80, 3],
    [80, 64, 1],
    [64, 64, 3],
    [64, 40, 1],
    [40, 40, 3],
    [40, 24, 1],
    [24, 24, 3],
    [24, 24, 3],
    [24, 5, 1],
];

/// A 16-bit float (IEEE 754 binary16) as `f32`.
pub(in crate::assist) fn from_half(bits: u16) -> f32 {
    let sign = if bits >> 15 == 1 { -1.0 } else { 1.0 };
    let fraction = f32::from(bits & 0x3FF);
    match (bits >> 10) & 0x1F {
        0 => sign * fraction * 2f32.powi(-24),
        31 => sign * f32::INFINITY,
        exponent => sign * (1.0 + fraction / 1024.0) * 2f32.powi(i32::from(exponent) - 15),
    }
}

/// The layers, read once.
fn layers() -> &'static [Layer] {
    static LAYERS: OnceLock<Vec<Layer>> = OnceLock::new();
    LAYERS.get_or_init(|| read_layers(ON_TRIAL.get().map_or(WEIGHTS, Vec::as_slice)))
}

fn read_layers(weights: &[u8]) -> Vec<Layer> {
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

/// What the net says of a film.
pub(super) struct Seen {
    /// The five maps, before the logistic function.
    pub logits: Planes,
    /// Its widest view: 96 numbers for every 32nd cell each way.
    pub deep: Planes,
}

/// What the net says of the six planes `input`.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn run(input: &Planes, progress: &Progress) -> Result<Seen, AssistError> {
    let net = layers();
    let step = |layer: usize, planes: &Planes, stride: usize| -> Result<Planes, AssistError> {
        progress.check()?;
        Ok(net[layer].apply(planes, stride, true))
    };
    let s0 = step(1, &step(0, input, 1)?, 1)?;
    let s1 = step(3, &step(2, &s0, 2)?, 1)?;
    let s2 = step(5, &step(4, &s1, 2)?, 1)?;
    let s3 = step(7, &step(6, &s2, 2)?, 1)?;
    let s4 = step(9, &step(8, &s3, 2)?, 1)?;
    let deep = step(12, &step(11, &step(10, &s4, 2)?, 1)?, 1)?;
    let mut coarse = None;
    for (layer, mut fine) in [(13, s4), (15, s3), (17, s2), (19, s1), (21, s0)] {
        let wide = coarse.as_ref().unwrap_or(&deep);
        fine.join(&net[layer].apply(wide, 1, false));
        coarse = Some(step(layer + 1, &fine, 1)?);
    }
    let last = step(23, coarse.as_ref().unwrap_or(&deep), 1)?;
    Ok(Seen {
        logits: net[24].apply(&last, 1, false),
        deep,
    })
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
