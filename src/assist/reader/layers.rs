//! Convolutions on planes with a border of one zero cell, as products of
//! matrices: the cells that the filter sees, times its weights.

use nalgebra::{DMatrix, DMatrixView};
use rayon::prelude::*;

/// Planes of equal size, each with one zero cell around it.
pub(in crate::assist) struct Planes {
    pub count: usize,
    pub width: usize,
    pub height: usize,
    /// Plane after plane, row after row, border included.
    values: Vec<f32>,
}

/// Spare cells after the last plane: the last row may be read two cells beyond.
const SPARE: usize = 4;
/// Cells computed together: their filters' inputs stay in the processor's
/// second-level cache.
const BAND_CELLS: usize = 1024;

/// Weights (output, input, row, column) and biases of one layer.
pub(in crate::assist) struct Layer {
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
            values: vec![0.0; count * (width + 2) * (height + 2) + SPARE],
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

    /// The sum with `other`, planes of the same size.
    pub fn plus(mut self, other: &Planes) -> Self {
        let pairs = self.values.iter_mut().zip(&other.values);
        pairs.for_each(|(a, b)| *a += b);
        self
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
        let taps = self.inputs * self.size * self.size;
        let weights = DMatrixView::from_slice(&self.weights, taps, self.outputs);
        let band = (BAND_CELLS / width).clamp(1, height);
        let bands: Vec<DMatrix<f32>> = (0..height.div_ceil(band))
            .into_par_iter()
            .map(|k| {
                let rows = k * band..((k + 1) * band).min(height);
                let seen = self.seen(input, rows, width, stride);
                let mut sums = DMatrix::from_fn(seen.nrows(), self.outputs, |_, o| self.biases[o]);
                sums.gemm(1.0, &seen, &weights, 1.0);
                if rectify {
                    sums.apply(|v| *v = v.max(0.0));
                }
                sums
            })
            .collect();
        for (k, sums) in bands.iter().enumerate() {
            for (plane, values) in sums.as_slice().chunks(sums.nrows()).enumerate() {
                for (row, values) in values.chunks(width).enumerate() {
                    let start = plane * out_len + (k * band + row + 1) * out_stride + 1;
                    output.values[start..start + width].copy_from_slice(values);
                }
            }
        }
        output
    }

    /// What the filter sees at each cell of the output's `rows`: a column for
    /// each tap (input, row, column of the filter).
    fn seen(
        &self,
        input: &Planes,
        rows: std::ops::Range<usize>,
        width: usize,
        stride: usize,
    ) -> DMatrix<f32> {
        let (in_stride, in_len) = (input.stride(), input.plane_len());
        // The first cell a 3 × 3 filter touches is the border's; a 1 × 1
        // filter starts one further each way.
        let inset = if self.size == 1 { 1 } else { 0 };
        let cells = rows.len() * width;
        let mut values = Vec::with_capacity(cells * self.inputs * self.size * self.size);
        for plane in 0..self.inputs {
            for dy in 0..self.size {
                for dx in 0..self.size {
                    for y in rows.clone() {
                        let row = plane * in_len + (y * stride + dy + inset) * in_stride;
                        let from = &input.values[row + dx + inset..];
                        if stride == 1 {
                            values.extend_from_slice(&from[..width]);
                        } else {
                            values.extend(from.iter().step_by(stride).take(width));
                        }
                    }
                }
            }
        }
        let taps = self.inputs * self.size * self.size;
        DMatrix::from_vec(cells, taps, values)
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
