//! Convolutions on planes with a border of one zero cell, four outputs and
//! eight columns at a time, so that the compiler keeps the sums in registers.

use rayon::prelude::*;

/// Planes of equal size, each with one zero cell around it.
pub(super) struct Planes {
    pub count: usize,
    pub width: usize,
    pub height: usize,
    /// Plane after plane, row after row, border included.
    values: Vec<f32>,
}

/// Spare cells after the last plane: whole blocks of columns may be read.
const BLOCK: usize = 8;
/// Outputs computed together.
const OUTPUTS: usize = 4;

/// Weights (output, input, row, column) and biases of one layer.
pub(super) struct Layer {
    pub inputs: usize,
    pub outputs: usize,
    /// 3 or 1.
    pub size: usize,
    pub weights: Vec<f32>,
    pub biases: Vec<f32>,
}

impl Planes {
    pub fn zeros(count: usize, width: usize, height: usize) -> Self {
        Self {
            count,
            width,
            height,
            values: vec![0.0; count * (width + 2) * (height + 2) + 4 * BLOCK],
        }
    }

    fn stride(&self) -> usize {
        self.width + 2
    }

    fn plane_len(&self) -> usize {
        self.stride() * (self.height + 2)
    }

    /// Row `y` of plane `plane`, without its border.
    pub fn row(&self, plane: usize, y: usize) -> &[f32] {
        let start = plane * self.plane_len() + (y + 1) * self.stride() + 1;
        &self.values[start..start + self.width]
    }

    pub fn row_mut(&mut self, plane: usize, y: usize) -> &mut [f32] {
        let start = plane * self.plane_len() + (y + 1) * self.stride() + 1;
        &mut self.values[start..start + self.width]
    }

    /// Adds `coarse`, each cell of it on two by two, and rectifies.
    pub fn join(&mut self, coarse: &Planes) {
        let (stride, len, height) = (self.stride(), self.plane_len(), self.height);
        let width = self.width;
        let total = self.count * len;
        self.values[..total]
            .par_chunks_mut(len)
            .enumerate()
            .for_each(|(plane, values)| {
                for y in 0..height {
                    let from = coarse.row(plane, (y / 2).min(coarse.height - 1));
                    let row = &mut values[(y + 1) * stride + 1..][..width];
                    for (x, value) in row.iter_mut().enumerate() {
                        *value = (*value + from[(x / 2).min(coarse.width - 1)]).max(0.0);
                    }
                }
            });
    }
}

impl Layer {
    /// The layer's output where every `stride`th cell is kept, rectified if
    /// asked.
    pub fn apply(&self, input: &Planes, stride: usize, rectify: bool) -> Planes {
        debug_assert_eq!(input.count, self.inputs);
        let (width, height) = (input.width.div_ceil(stride), input.height.div_ceil(stride));
        let mut output = Planes::zeros(self.outputs, width, height);
        let (out_stride, out_len) = (output.stride(), output.plane_len());
        // Rows of all outputs are computed together, then put into the planes.
        let packed = self.packed();
        let rows: Vec<Vec<f32>> = (0..height)
            .into_par_iter()
            .map(|y| {
                let mut row = vec![0.0f32; self.outputs * width];
                match stride {
                    1 => self.row::<1>(input, &packed, y, width, &mut row),
                    _ => self.row::<2>(input, &packed, y, width, &mut row),
                }
                if rectify {
                    row.iter_mut().for_each(|v| *v = v.max(0.0));
                }
                row
            })
            .collect();
        for (y, row) in rows.iter().enumerate() {
            for (plane, values) in row.chunks(width).enumerate() {
                let start = plane * out_len + (y + 1) * out_stride + 1;
                output.values[start..start + width].copy_from_slice(values);
            }
        }
        output
    }

    /// Weights by group of outputs, then input, row, column, and output.
    fn packed(&self) -> Vec<[f32; OUTPUTS]> {
        let taps = self.inputs * self.size * self.size;
        (0..self.outputs.div_ceil(OUTPUTS))
            .flat_map(|group| (0..taps).map(move |tap| (group, tap)))
            .map(|(group, tap)| {
                std::array::from_fn(|k| {
                    let output = group * OUTPUTS + k;
                    if output < self.outputs {
                        self.weights[output * taps + tap]
                    } else {
                        0.0
                    }
                })
            })
            .collect()
    }

    fn row<const STRIDE: usize>(
        &self,
        input: &Planes,
        packed: &[[f32; OUTPUTS]],
        y: usize,
        width: usize,
        out: &mut [f32],
    ) {
        let (stride, len) = (input.stride(), input.plane_len());
        let taps = self.inputs * self.size * self.size;
        // The first cell a 3 × 3 filter touches is the border's; a 1 × 1
        // filter starts one further each way.
        let inset = if self.size == 1 { 1 } else { 0 };
        for (group, weights) in packed.chunks(taps).enumerate() {
            let first = group * OUTPUTS;
            let biases: [f32; OUTPUTS] =
                std::array::from_fn(|k| self.biases.get(first + k).copied().unwrap_or(0.0));
            for x in (0..width).step_by(BLOCK) {
                let mut sums = biases.map(|b| [b; BLOCK]);
                let mut tap = 0;
                for plane in 0..self.inputs {
                    for dy in 0..self.size {
                        let row = plane * len + (y * STRIDE + dy + inset) * stride;
                        for dx in 0..self.size {
                            let start = row + x * STRIDE + dx + inset;
                            let cells = columns::<STRIDE>(&input.values, start);
                            for (sum, w) in sums.iter_mut().zip(&weights[tap]) {
                                for (s, c) in sum.iter_mut().zip(&cells) {
                                    *s += w * c;
                                }
                            }
                            tap += 1;
                        }
                    }
                }
                let count = BLOCK.min(width - x);
                for (k, sum) in sums.iter().enumerate().take(self.outputs - first) {
                    out[(first + k) * width + x..][..count].copy_from_slice(&sum[..count]);
                }
            }
        }
    }
}

/// Every `STRIDE`th of the values from `start` on.
#[inline(always)]
fn columns<const STRIDE: usize>(values: &[f32], start: usize) -> [f32; BLOCK] {
    if STRIDE == 1 {
        return match values[start..].first_chunk() {
            Some(chunk) => *chunk,
            None => [0.0; BLOCK],
        };
    }
    match values[start..].first_chunk::<{ 2 * BLOCK }>() {
        Some(chunk) => std::array::from_fn(|k| chunk[2 * k]),
        None => [0.0; BLOCK],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the sum written out, on odd sizes, for both strides and sizes.
    #[test]
    fn convolutions_equal_their_definition() {
        let (width, height, inputs, outputs) = (13, 7, 3, 6);
        let mut planes = Planes::zeros(inputs, width, height);
        let number = |i: usize| ((i * 7919 % 101) as f32) / 50.0 - 1.0;
        for plane in 0..inputs {
            for y in 0..height {
                for (x, v) in planes.row_mut(plane, y).iter_mut().enumerate() {
                    *v = number(plane * 1000 + y * 31 + x);
                }
            }
        }
        for (size, stride) in [(3, 1), (3, 2), (1, 1)] {
            let taps = inputs * size * size;
            let layer = Layer {
                inputs,
                outputs,
                size,
                weights: (0..outputs * taps).map(|i| number(i + 5)).collect(),
                biases: (0..outputs).map(|i| number(i + 9)).collect(),
            };
            let result = layer.apply(&planes, stride, false);
            assert_eq!(result.width, width.div_ceil(stride));
            let half = (size / 2) as isize;
            for output in 0..outputs {
                for y in 0..result.height {
                    for x in 0..result.width {
                        let mut sum = layer.biases[output];
                        for plane in 0..inputs {
                            for dy in 0..size {
                                for dx in 0..size {
                                    let sy = (y * stride + dy) as isize - half;
                                    let sx = (x * stride + dx) as isize - half;
                                    let inside = (0..height as isize).contains(&sy)
                                        && (0..width as isize).contains(&sx);
                                    if inside {
                                        let w = layer.weights
                                            [output * taps + (plane * size + dy) * size + dx];
                                        sum += w * planes.row(plane, sy as usize)[sx as usize];
                                    }
                                }
                            }
                        }
                        let found = result.row(output, y)[x];
                        assert!((found - sum).abs() < 1e-4, "{found} for {sum}");
                    }
                }
            }
        }
    }
}
