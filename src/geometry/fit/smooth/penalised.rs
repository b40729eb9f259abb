//! Least squares with the turns of a bend held together by a random walk.

use super::linearised::Linearised;
use super::{ALL, BASE, PIECES, Vector};

/// What holds the turns of a bend together, as precisions in units of the
/// points' variance: of the first turn, of the step from it where the slope of
/// the curvature walks, and of every step of the walk.
#[derive(Clone, Copy, Debug)]
pub(super) struct Walk {
    pub level: f64,
    /// The slope walks, not the curvature.
    pub slope: Option<f64>,
    pub stiffness: f64,
}

impl Walk {
    /// The rows whose squares are its penalty: precision and entries about the
    /// row's own place.
    pub fn row(&self, k: usize) -> (f64, [f64; 3]) {
        match (k, self.slope) {
            (0, _) => (self.level, [0.0, 0.0, 1.0]),
            (1, Some(slope)) => (slope, [0.0, -1.0, 1.0]),
            (_, Some(_)) => (self.stiffness, [1.0, -2.0, 1.0]),
            (_, None) => (self.stiffness, [0.0, -1.0, 1.0]),
        }
    }

    /// Logarithm of the determinant of the penalty of so many turns.
    pub fn log_determinant(&self, count: usize) -> f64 {
        let first = self.level.ln() + self.slope.map_or(0.0, f64::ln);
        let steps = count - 1 - usize::from(self.slope.is_some());
        first + steps as f64 * self.stiffness.ln()
    }

    /// Entry of the penalty's matrix for so many turns.
    fn penalty(&self, i: usize, j: usize, count: usize) -> f64 {
        let (low, high) = (i.min(j), i.max(j));
        if high - low > 2 {
            return 0.0;
        }
        let rows = high..=(low + 2).min(count - 1);
        let of_row = |k: usize| {
            let (precision, entries) = self.row(k);
            precision * entries[2 + i - k] * entries[2 + j - k]
        };
        rows.map(of_row).sum()
    }
}

/// Lower Cholesky factor of a penalised normal matrix, row by row, with L⁻¹ of
/// the right side.
///
/// A row needs those before it alone, and the penalty of a turn knows of the
/// next two: stretches with one start share all rows but the last two.
pub(super) struct Factor {
    first: usize,
    rows: Box<[Vector; ALL]>,
    half: Vector,
}

/// What so many rows of a factor come to.
#[derive(Clone, Copy, Default)]
pub(super) struct Reached {
    rows: usize,
    pub log_determinant: f64,
    /// Squared length of L⁻¹ of the right side.
    pub explained: f64,
}

/// Σ aₖbₖ, as four sums that a processor can work on at once.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a, rest_a) = a.as_chunks::<4>();
    let (b, rest_b) = b.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for (a, b) in a.iter().zip(b) {
        for k in 0..4 {
            sums[k] += a[k] * b[k];
        }
    }
    let rest: f64 = rest_a.iter().zip(rest_b).map(|(a, b)| a * b).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

impl Factor {
    pub fn new(first: usize) -> Self {
        Self {
            first,
            rows: Box::new([[0.0; ALL]; ALL]),
            half: [0.0; ALL],
        }
    }

    /// Goes on from `reached` up to row `to` of a bend of `count` turns; `None`
    /// where the matrix is not positive definite.
    fn advanced(
        &mut self,
        lin: &Linearised,
        walk: &Walk,
        mut reached: Reached,
        (to, count): (usize, usize),
    ) -> Option<Reached> {
        let index = |i: usize| if i < BASE { i } else { self.first + i };
        for i in reached.rows..to {
            let (above, below) = self.rows.split_at_mut(i);
            let row = &mut below[0];
            let own = &lin.normal[index(i)];
            for j in 0..=i {
                let mut sum = own[index(j)];
                if j >= BASE && j + 2 >= i {
                    sum += walk.penalty(i - BASE, j - BASE, count);
                }
                if j == i {
                    sum -= dot(&row[..i], &row[..i]);
                    if sum.is_nan() || sum <= 0.0 {
                        return None;
                    }
                    reached.log_determinant += sum.ln();
                    row[i] = sum.sqrt();
                } else {
                    row[j] = (sum - dot(&row[..j], &above[j][..j])) / above[j][j];
                }
            }
            let known = dot(&row[..i], &self.half[..i]);
            self.half[i] = (lin.right[index(i)] - known) / row[i];
            reached.explained += self.half[i] * self.half[i];
        }
        reached.rows = to;
        Some(reached)
    }

    /// The same for bends that end before each of `lasts`, in rising order.
    pub fn of_lasts(
        &mut self,
        lin: &Linearised,
        walk: &Walk,
        lasts: impl Iterator<Item = usize>,
        mut put: impl FnMut(usize, Reached),
    ) {
        /// More turns than any bend has: no row knows of its end.
        const NO_END: usize = PIECES + 3;
        let mut shared = Reached::default();
        for last in lasts {
            let count = last - self.first;
            let rows = BASE + count;
            let Some(common) = self.advanced(lin, walk, shared, (rows - 2, NO_END)) else {
                return;
            };
            shared = common;
            if let Some(whole) = self.advanced(lin, walk, shared, (rows, count)) {
                put(last, whole);
            }
        }
    }
}

/// The factor of one stretch, to solve with.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    first: usize,
    count: usize,
    factor: Box<[Vector; ALL]>,
    half: Vector,
}

impl Solved {
    pub fn new(lin: &Linearised, first: usize, last: usize, walk: &Walk) -> Option<Self> {
        let count = last - first;
        let mut factor = Factor::new(first);
        let rows = (BASE + count, count);
        factor.advanced(lin, walk, Reached::default(), rows)?;
        Some(Self {
            first,
            count: BASE + count,
            factor: factor.rows,
            half: factor.half,
        })
    }

    fn index(&self, i: usize) -> usize {
        if i < BASE { i } else { self.first + i }
    }

    /// The parameters of least squares.
    pub fn solution(&self) -> Vector {
        self.backward(&self.half)
    }

    /// L⁻¹ v.
    pub fn forward(&self, v: &Vector) -> Vector {
        let mut out = [0.0; ALL];
        for i in 0..self.count {
            let row = &self.factor[i];
            out[i] = (v[self.index(i)] - dot(&row[..i], &out[..i])) / row[i];
        }
        out
    }

    /// L⁻ᵀ v, spread over all parameters.
    pub fn backward(&self, v: &Vector) -> Vector {
        let mut out = *v;
        for i in (0..self.count).rev() {
            out[i] /= self.factor[i][i];
            let value = out[i];
            for (earlier, factor) in out.iter_mut().zip(&self.factor[i][..i]) {
                *earlier -= factor * value;
            }
        }
        let mut spread = [0.0; ALL];
        for (i, value) in out[..self.count].iter().enumerate() {
            spread[self.index(i)] = *value;
        }
        spread
    }
}
