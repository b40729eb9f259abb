//! Least squares with the turns of a bend held together by a random walk.

use super::linearised::Linearised;
use super::{ALL, BASE, Vector};

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
}

/// A penalised normal matrix with its right side, eliminated column by column:
/// L D Lᵀ in place, D on the diagonal, L with its ones left out below it.
///
/// All entries of a column are worked on at once, and a row of the penalty comes
/// in just before the first column it knows of goes: where a bend ends, all that
/// is left of it are its last two rows, and longer bends of the same start go on
/// from there.
pub(super) struct Factor {
    first: usize,
    rows: Box<[Vector; ALL]>,
    /// L⁻¹ of the right side as far as eliminated.
    right: Vector,
}

/// What the factor of a whole bend comes to.
#[derive(Clone, Copy, Default)]
pub(super) struct Reached {
    pub log_determinant: f64,
    /// Squared length of the right side in the measure of the inverse.
    pub explained: f64,
}

impl Reached {
    /// With one more pivot and its part of the right side; `None` where the
    /// matrix is not positive definite.
    fn with(self, pivot: f64, right: f64) -> Option<Self> {
        (pivot > 0.0).then(|| Self {
            log_determinant: self.log_determinant + pivot.ln(),
            explained: self.explained + right * right / pivot,
        })
    }
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

/// Rows of the penalty that know of a turn: its own and the next two.
const ROWS_EACH: usize = 3;

impl Factor {
    pub fn new(first: usize) -> Self {
        Self {
            first,
            rows: Box::new([[0.0; ALL]; ALL]),
            right: [0.0; ALL],
        }
    }

    /// The matrix of a bend of `count` turns with the first rows of its penalty.
    fn fill(&mut self, lin: &Linearised, walk: &Walk, count: usize) {
        let own = BASE + self.first..BASE + self.first + count;
        for i in 0..BASE {
            self.rows[i][..BASE].copy_from_slice(&lin.normal[i][..BASE]);
        }
        for (row, normal) in self.rows[BASE..].iter_mut().zip(&lin.normal[own.clone()]) {
            row[..BASE].copy_from_slice(&normal[..BASE]);
            row[BASE..BASE + count].copy_from_slice(&normal[own.clone()]);
        }
        self.right[..BASE].copy_from_slice(&lin.right[..BASE]);
        self.right[BASE..BASE + count].copy_from_slice(&lin.right[own]);
        for k in 0..count.min(ROWS_EACH - 1) {
            self.add_penalty(walk, k);
        }
    }

    fn add_penalty(&mut self, walk: &Walk, k: usize) {
        let (precision, entries) = walk.row(k);
        let known = ROWS_EACH - 1 - k.min(ROWS_EACH - 1);
        for a in known..ROWS_EACH {
            for b in known..=a {
                self.rows[BASE + k + a + 1 - ROWS_EACH][BASE + k + b + 1 - ROWS_EACH] +=
                    precision * entries[a] * entries[b];
            }
        }
    }

    /// Takes column `c` out of the rows below it, up to `size`.
    fn eliminate(&mut self, c: usize, size: usize) {
        let reciprocal = self.rows[c][c].recip();
        let right = self.right[c];
        let mut column = [0.0; ALL];
        for (entry, row) in column[c + 1..size].iter_mut().zip(&self.rows[c + 1..size]) {
            *entry = row[c];
        }
        for i in c + 1..size {
            let row = &mut self.rows[i];
            let factor = column[i] * reciprocal;
            for (entry, other) in row[c + 1..=i].iter_mut().zip(&column[c + 1..=i]) {
                *entry -= factor * other;
            }
            row[c] = factor;
            self.right[i] -= factor * right;
        }
    }

    /// The last two rows of a bend of which all before them are eliminated.
    fn last_two(&self, c: usize, reached: Reached) -> Option<Reached> {
        let [above, below] = [&self.rows[c], &self.rows[c + 1]];
        let factor = below[c] / above[c];
        reached.with(above[c], self.right[c])?.with(
            below[c + 1] - factor * below[c],
            self.right[c + 1] - factor * self.right[c],
        )
    }

    /// What bends come to that end before each of `lasts`, in rising order;
    /// those whose matrix is not positive definite are left out.
    pub fn of_lasts(
        &mut self,
        lin: &Linearised,
        walk: &Walk,
        lasts: impl Iterator<Item = usize> + Clone,
        mut put: impl FnMut(usize, Reached),
    ) {
        let Some(longest) = lasts.clone().last() else {
            return;
        };
        let mut lasts = lasts.peekable();
        let count = longest - self.first;
        let size = BASE + count;
        self.fill(lin, walk, count);
        let mut reached = Reached::default();
        for c in 0..size - 1 {
            let ends = |last: &usize| BASE + last - self.first == c + 2;
            if let Some(last) = lasts.next_if(ends)
                && let Some(whole) = self.last_two(c, reached)
            {
                put(last, whole);
            }
            if c >= BASE && c + 2 < size {
                self.add_penalty(walk, c + 2 - BASE);
            }
            let Some(next) = reached.with(self.rows[c][c], self.right[c]) else {
                return;
            };
            reached = next;
            self.eliminate(c, size);
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
        let turns = last - first;
        let count = BASE + turns;
        let mut factor = Factor::new(first);
        factor.fill(lin, walk, turns);
        let mut roots = [0.0; ALL];
        for (c, root) in roots[..count].iter_mut().enumerate() {
            if c >= BASE && c + 2 < count {
                factor.add_penalty(walk, c + 2 - BASE);
            }
            let pivot = factor.rows[c][c];
            if pivot.is_nan() || pivot <= 0.0 {
                return None;
            }
            *root = pivot.sqrt();
            factor.eliminate(c, count);
        }
        // L D Lᵀ to Cholesky's form.
        let Factor {
            mut rows, right, ..
        } = factor;
        let mut half = [0.0; ALL];
        for (i, row) in rows[..count].iter_mut().enumerate() {
            for (entry, root) in row[..i].iter_mut().zip(&roots) {
                *entry *= root;
            }
            row[i] = roots[i];
            half[i] = right[i] / roots[i];
        }
        Some(Self {
            first,
            count,
            factor: rows,
            half,
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
