//! The filter's layers and their weights (`tests/scripts/train_strips.py`).

use std::sync::OnceLock;

use nalgebra::DMatrix;

use super::{COLUMNS, End, ROWS};
use crate::assist::reader::{Layer, Planes, from_half};

/// 16-bit floats: of each layer the weights, then the biases.
const TIP_WEIGHTS: &[u8] = include_bytes!("tip.bin");
const STOP_WEIGHTS: &[u8] = include_bytes!("stop.bin");
const COURSE_WEIGHTS: &[u8] = include_bytes!("course.bin");
static TIP_ON_TRIAL: OnceLock<Vec<u8>> = OnceLock::new();
static STOP_ON_TRIAL: OnceLock<Vec<u8>> = OnceLock::new();
static COURSE_ON_TRIAL: OnceLock<Vec<u8>> = OnceLock::new();

/// The three filters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weights {
    Tip,
    Stop,
    Course,
}

impl Weights {
    /// Planes that the filter sees.
    const fn inputs(self) -> usize {
        match self {
            Self::Tip | Self::Stop => 3,
            Self::Course => 4,
        }
    }

    /// The shape whose numbers these bytes are.
    fn shape_of(self, bytes: &[u8]) -> Option<Shape> {
        let fits = |shape: &Shape| bytes.len() == 2 * shape.numbers(self.inputs());
        [SMALL, LARGE].into_iter().find(fits)
    }

    fn built_in(self) -> &'static [u8] {
        match self {
            Self::Tip => TIP_WEIGHTS,
            Self::Stop => STOP_WEIGHTS,
            Self::Course => COURSE_WEIGHTS,
        }
    }

    fn on_trial(self) -> &'static OnceLock<Vec<u8>> {
        match self {
            Self::Tip => &TIP_ON_TRIAL,
            Self::Stop => &STOP_ON_TRIAL,
            Self::Course => &COURSE_ON_TRIAL,
        }
    }
}

/// Puts weights on trial in place of those built in, until the program ends;
/// false where that has been done, or they are of another size.
pub fn try_weights(weights: Weights, bytes: Vec<u8>) -> bool {
    weights.shape_of(&bytes).is_some() && weights.on_trial().set(bytes).is_ok()
}

/// How large a filter is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Shape {
    /// Filters of 3 × 3, those after the second added to what they see.
    convs: usize,
    /// Planes of each.
    planes: usize,
    /// Numbers of a folded row.
    folded: usize,
}

const SMALL: Shape = Shape {
    convs: 2,
    planes: 16,
    folded: 40,
};
/// On trial only: those that were trained read films no better (docs/assist.md).
const LARGE: Shape = Shape {
    convs: 4,
    planes: 24,
    folded: 64,
};

impl Shape {
    /// Numbers in the file of a filter that sees `inputs` planes.
    fn numbers(self, inputs: usize) -> usize {
        let seen = inputs + (self.convs - 1) * self.planes;
        let convs = 9 * seen * self.planes + self.convs * self.planes;
        let fold = self.planes * COLUMNS * self.folded + self.folded;
        let rows = DILATIONS.len() * (3 * self.folded * self.folded + self.folded);
        convs + fold + rows + (self.folded + 1) + 2 * (2 * self.folded + 1)
    }
}

/// Rows between the three that each later layer sees.
const DILATIONS: [usize; 7] = [1, 2, 4, 8, 16, 32, 1];

/// The filter on rows: three of them, some way apart.
struct RowsLayer {
    /// Of each of the three rows: what it sees (rows) to what it says (columns).
    taps: [DMatrix<f32>; 3],
    biases: Vec<f32>,
}

struct Net {
    shape: Shape,
    convs: Vec<Layer>,
    fold: DMatrix<f32>,
    fold_biases: Vec<f32>,
    rows: Vec<RowsLayer>,
    each: Vec<f32>,
    each_bias: f32,
    all: [Vec<f32>; 2],
    all_biases: [f32; 2],
}

impl Net {
    fn read(inputs: usize, shape: Shape, bytes: &[u8]) -> Self {
        let (planes, folded) = (shape.planes, shape.folded);
        let (pairs, _) = bytes.as_chunks::<2>();
        let mut numbers = pairs.iter().map(|b| from_half(u16::from_le_bytes(*b)));
        let mut take = |count: usize| -> Vec<f32> { numbers.by_ref().take(count).collect() };
        let mut layer = |inputs: usize| Layer {
            inputs,
            outputs: planes,
            size: 3,
            weights: take(inputs * planes * 9),
            biases: take(planes),
        };
        let convs = (0..shape.convs).map(|k| layer(if k == 0 { inputs } else { planes }));
        let convs = convs.collect();
        let seen = planes * COLUMNS;
        let fold = DMatrix::from_vec(seen, folded, take(seen * folded));
        let fold_biases = take(folded);
        let rows = (0..DILATIONS.len())
            .map(|_| {
                let weights = take(3 * folded * folded);
                RowsLayer {
                    taps: std::array::from_fn(|tap| {
                        DMatrix::from_fn(folded, folded, |i, o| weights[3 * (folded * o + i) + tap])
                    }),
                    biases: take(folded),
                }
            })
            .collect();
        let each = take(folded);
        let each_bias = take(1).first().copied().unwrap_or(0.0);
        let all = [take(2 * folded), take(2 * folded)];
        let all_biases = take(2);
        Self {
            shape,
            convs,
            fold,
            fold_biases,
            rows,
            each,
            each_bias,
            all,
            all_biases: [0, 1].map(|k| all_biases.get(k).copied().unwrap_or(0.0)),
        }
    }

    fn of(weights: Weights) -> &'static Self {
        static TIP: OnceLock<Net> = OnceLock::new();
        static STOP: OnceLock<Net> = OnceLock::new();
        static COURSE: OnceLock<Net> = OnceLock::new();
        let net = match weights {
            Weights::Tip => &TIP,
            Weights::Stop => &STOP,
            Weights::Course => &COURSE,
        };
        let bytes = weights.on_trial().get();
        let bytes = bytes.map_or(weights.built_in(), Vec::as_slice);
        let shape = weights.shape_of(bytes).unwrap_or(SMALL);
        net.get_or_init(|| Self::read(weights.inputs(), shape, bytes))
    }

    /// Of each row, then of none and of beyond, before they become shares.
    fn logits(&self, input: &Planes) -> Vec<f32> {
        let Shape { planes, folded, .. } = self.shape;
        let mut convs = self.convs.iter();
        let mut seen = convs.next().map_or_else(
            || Planes::zeros(planes, COLUMNS, ROWS),
            |c| c.apply(input, 1, true),
        );
        for (k, conv) in convs.enumerate() {
            let said = conv.apply(&seen, 1, true);
            seen = if k == 0 { said } else { said.plus(&seen) };
        }
        let seen = DMatrix::from_fn(ROWS, planes * COLUMNS, |row, at| {
            seen.row(at / COLUMNS, row)[at % COLUMNS]
        });
        let mut rows = biased(&self.fold_biases);
        rows.gemm(1.0, &seen, &self.fold, 1.0);
        rows.apply(|v| *v = v.max(0.0));
        for (layer, apart) in self.rows.iter().zip(DILATIONS) {
            let mut said = biased(&layer.biases);
            for (tap, weights) in layer.taps.iter().enumerate() {
                // Rows −apart, 0 and +apart; what lies beyond the strip is 0.
                let (from, to) = match tap {
                    0 => (0, apart),
                    1 => (0, 0),
                    _ => (apart, 0),
                };
                let count = ROWS - from.max(to);
                let part = rows.rows(from, count) * weights;
                let mut there = said.rows_mut(to, count);
                there += part;
            }
            rows.zip_apply(&said, |v, s| *v += s.max(0.0));
        }
        let mut logits: Vec<f32> = (0..ROWS)
            .map(|row| {
                let numbers = self.each.iter().enumerate();
                self.each_bias + numbers.map(|(k, w)| w * rows[(row, k)]).sum::<f32>()
            })
            .collect();
        for (weights, bias) in self.all.iter().zip(self.all_biases) {
            let (means, tops) = weights.split_at(folded);
            let sum = (0..folded).map(|k| {
                let column = rows.column(k);
                means[k] * column.sum() / ROWS as f32 + tops[k] * column.max()
            });
            logits.push(bias + sum.sum::<f32>());
        }
        logits
    }
}

fn biased(biases: &[f32]) -> DMatrix<f32> {
    DMatrix::from_fn(ROWS, biases.len(), |_, o| biases[o])
}

/// The lower middle one of `values`; 0 without any.
fn median(mut values: Vec<f32>) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let at = (values.len() - 1) / 2;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

/// What the filter sees of a strip of [`ROWS`] × [`COLUMNS`] opacities (NaN off
/// the film): height over the middle one in units of the spread, height over
/// the mean of the nine columns around, and where the film is.
fn seen(values: &[f32], mark: Option<&[f32]>) -> Planes {
    let on_film = || values.iter().copied().filter(|v| !v.is_nan());
    let middle = median(on_film().collect());
    let spread = median(on_film().map(|v| (v - middle).abs()).collect());
    let high: Vec<f32> = values
        .chunks(COLUMNS)
        .flat_map(|row| {
            row.iter().enumerate().map(|(column, v)| {
                let around = &row[column.saturating_sub(4)..(column + 5).min(COLUMNS)];
                let (sum, count) = around
                    .iter()
                    .filter(|a| !a.is_nan())
                    .fold((0.0, 0.0), |(sum, count), a| (sum + a, count + 1.0));
                v - sum / f32::max(count, 1.0)
            })
        })
        .collect();
    let usual = high.iter().filter(|h| !h.is_nan()).map(|h| h.abs());
    let usual = median(usual.collect());
    let mut planes = Planes::zeros(3 + usize::from(mark.is_some()), COLUMNS, ROWS);
    let shown = |v: f32| if v.is_nan() { 0.0 } else { v.clamp(-3.0, 3.0) };
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let at = row * COLUMNS + column;
            let a = (values[at] - middle) / (2.0 * spread + 0.02);
            let b = high[at] / (3.0 * usual + 0.002);
            planes.row_mut(0, row)[column] = shown(a);
            planes.row_mut(1, row)[column] = shown(b);
            planes.row_mut(2, row)[column] = f32::from(u8::from(!values[at].is_nan()));
        }
        if let Some(mark) = mark {
            let marked = &mark[row * COLUMNS..][..COLUMNS];
            planes.row_mut(3, row).copy_from_slice(marked);
        }
    }
    planes
}

/// Left and right changed.
fn mirrored(values: &[f32]) -> Vec<f32> {
    let rows = values.chunks(COLUMNS);
    rows.flat_map(|row| row.iter().rev().copied()).collect()
}

/// What a filter says of `values`, the mean of both ways round.
fn both_ways(weights: Weights, values: &[f32], mark: Option<&[f32]>) -> Vec<f64> {
    let net = Net::of(weights);
    let one_way = net.logits(&seen(values, mark));
    let turned = mark.map(mirrored);
    let other_way = net.logits(&seen(&mirrored(values), turned.as_deref()));
    let mean = one_way.iter().zip(&other_way);
    mean.map(|(a, b)| 0.5 * f64::from(a + b)).collect()
}

/// What the filter of courses says, of the stop's end and of the tip's.
pub(super) fn course_ends(values: &[f32], mark: &[f32]) -> [f64; 2] {
    let said = both_ways(Weights::Course, values, Some(mark));
    [0, 1].map(|end| {
        said.get(ROWS + end)
            .map_or(0.5, |l| 1.0 / (1.0 + (-l).exp()))
    })
}

/// What the filter says of a strip.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// How surely the place lies in each row.
    pub rows: Vec<f64>,
    /// How surely there is none.
    pub none: f64,
    /// How surely the file runs on beyond the last row.
    pub beyond: f64,
}

impl Told {
    /// What the filter says of `values`, the other way round too.
    pub fn of(end: End, values: &[f32]) -> Self {
        let weights = match end {
            End::Tip => Weights::Tip,
            End::Stop => Weights::Stop,
        };
        let mean = both_ways(weights, values, None);
        let top = mean.iter().fold(f64::MIN, |a, b| a.max(*b));
        let shares: Vec<f64> = mean.iter().map(|l| (l - top).exp()).collect();
        let sum: f64 = shares.iter().sum();
        let mut rows: Vec<f64> = shares.iter().map(|s| s / sum).collect();
        let rest = rows.split_off(ROWS);
        let at = |k: usize| rest.get(k).copied().unwrap_or(0.0);
        Self {
            rows,
            none: at(0),
            beyond: at(1),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The numbers that the training program computed with the same weights.
    #[test]
    fn shares_equal_those_of_the_training_program() {
        for (weights, bytes) in [
            (Weights::Tip, include_bytes!("tip.check").as_slice()),
            (Weights::Stop, include_bytes!("stop.check").as_slice()),
            (Weights::Course, include_bytes!("course.check").as_slice()),
        ] {
            assert!(weights.shape_of(weights.built_in()).is_some());
            let (quads, _) = bytes.as_chunks::<4>();
            let numbers: Vec<f32> = quads.iter().map(|b| f32::from_le_bytes(*b)).collect();
            let (strip, rest) = numbers.split_at(ROWS * COLUMNS);
            let marked = rest.len() > ROWS + 2;
            let (mark, want) = rest.split_at(if marked { ROWS * COLUMNS } else { 0 });
            let off = |v: &f32| if *v < 0.0 { f32::NAN } else { *v };
            let values: Vec<f32> = strip.iter().map(off).collect();
            let found = Net::of(weights).logits(&seen(&values, marked.then_some(mark)));
            assert_eq!(found.len(), want.len());
            for (found, want) in found.iter().zip(want) {
                let bound = 0.03 + 0.02 * want.abs();
                assert!((found - want).abs() < bound, "{found} for {want}");
            }
        }
    }
}
