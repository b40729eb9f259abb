//! Analysis of variance of a subjects × raters table and the six intraclass
//! correlations of Shrout & Fleiss 1979 (Psychol Bull 86:420–8) with their
//! 95 % confidence intervals; ICC(2,·) by their Satterthwaite approximation.

use serde::Serialize;

use super::{AgreementError, Interval, LARGEST, TWO_SIDED_95};
use crate::statistics::f_quantile;

/// One line of an analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct VarianceLine {
    /// Sum of squares, rating unit squared.
    pub sum_of_squares: f64,
    /// Degrees of freedom.
    pub dof: usize,
    /// Mean square, rating unit squared.
    pub mean_square: f64,
}

impl VarianceLine {
    fn new(sum_of_squares: f64, dof: usize) -> Self {
        Self {
            sum_of_squares,
            dof,
            mean_square: sum_of_squares / dof as f64,
        }
    }
}

/// Two-way analysis of variance of n subjects × k raters, one rating each.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct VarianceTable {
    pub subjects: usize,
    pub raters: usize,
    /// Between subjects, n − 1 degrees of freedom.
    pub between_subjects: VarianceLine,
    /// Within subjects, n (k − 1): raters and error together.
    pub within_subjects: VarianceLine,
    /// Between raters, k − 1.
    pub between_raters: VarianceLine,
    /// What is left, (n − 1)(k − 1).
    pub error: VarianceLine,
    /// About the grand mean, n k − 1.
    pub total: VarianceLine,
}

impl VarianceTable {
    /// The analysis of `ratings[subject][rater]`.
    ///
    /// # Errors
    /// Fewer than two subjects or raters, rows of unequal length, a missing
    /// (non-finite) rating.
    pub fn from_ratings(ratings: &[Vec<f64>]) -> Result<Self, AgreementError> {
        let too_few = |what, found| AgreementError::TooFew {
            measure: "an intraclass correlation",
            what,
            needed: 2,
            found,
        };
        let n = ratings.len();
        if n < 2 {
            return Err(too_few("subjects", n));
        }
        let k = ratings[0].len();
        for (row, values) in ratings.iter().enumerate() {
            if values.len() != k {
                return Err(AgreementError::Ragged {
                    subject: row + 1,
                    found: values.len(),
                    expected: k,
                });
            }
            if let Some(column) = values.iter().position(|v| !v.is_finite()) {
                return Err(AgreementError::Missing {
                    subject: row + 1,
                    rater: column + 1,
                });
            }
        }
        if k < 2 {
            return Err(too_few("raters", k));
        }

        // Sums of squares do not change with the origin; taking the first
        // rating as origin keeps constant data exactly zero.
        let origin = ratings[0][0];
        let centred = |row: usize, column: usize| ratings[row][column] - origin;
        let (n_f, k_f) = (n as f64, k as f64);
        let row_means: Vec<f64> = (0..n)
            .map(|i| (0..k).map(|j| centred(i, j)).sum::<f64>() / k_f)
            .collect();
        let column_means: Vec<f64> = (0..k)
            .map(|j| (0..n).map(|i| centred(i, j)).sum::<f64>() / n_f)
            .collect();
        let grand = row_means.iter().sum::<f64>() / n_f;

        let mut largest = 0.0_f64;
        let (mut total, mut within, mut error) = (0.0, 0.0, 0.0);
        for i in 0..n {
            for j in 0..k {
                let value = centred(i, j);
                largest = largest.max(ratings[i][j].abs());
                total += (value - grand).powi(2);
                within += (value - row_means[i]).powi(2);
                error += (value - row_means[i] - column_means[j] + grand).powi(2);
            }
        }
        let between = k_f * row_means.iter().map(|m| (m - grand).powi(2)).sum::<f64>();
        let raters = n_f
            * column_means
                .iter()
                .map(|m| (m - grand).powi(2))
                .sum::<f64>();
        if largest > LARGEST {
            return Err(AgreementError::TooLarge);
        }

        // What rounding alone can leave behind counts as nothing.
        let rounding = n_f * k_f * (4.0 * f64::EPSILON * largest).powi(2);
        let settle = |sum: f64| if sum <= rounding { 0.0 } else { sum };
        Ok(Self {
            subjects: n,
            raters: k,
            between_subjects: VarianceLine::new(settle(between), n - 1),
            within_subjects: VarianceLine::new(settle(within), n * (k - 1)),
            between_raters: VarianceLine::new(settle(raters), k - 1),
            error: VarianceLine::new(settle(error), (n - 1) * (k - 1)),
            total: VarianceLine::new(settle(total), n * k - 1),
        })
    }

    /// Standard error of measurement: the root of the error mean square, so
    /// that constant differences between raters do not count. Rating unit.
    pub fn sem(&self) -> f64 {
        self.error.mean_square.sqrt()
    }

    /// Smallest change between two ratings that exceeds noise with 95 %
    /// confidence: 1.96 √2 SEM. Rating unit.
    pub fn mdc95(&self) -> f64 {
        TWO_SIDED_95 * std::f64::consts::SQRT_2 * self.sem()
    }
}

/// One intraclass correlation with its 95 % confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Icc {
    pub value: f64,
    pub ci95: Interval,
}

/// The six intraclass correlations of Shrout & Fleiss. The averages are those
/// of the mean of all k raters; they are `None` where the subjects' means
/// vary so little that the divisor is not positive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IccSet {
    /// ICC(1,1): each subject rated by other, random raters.
    pub icc_1_1: Icc,
    /// ICC(2,1): the same raters, a random sample (absolute agreement).
    pub icc_2_1: Icc,
    /// ICC(3,1): these raters only (consistency).
    pub icc_3_1: Icc,
    /// ICC(1,k).
    pub icc_1_k: Option<Icc>,
    /// ICC(2,k).
    pub icc_2_k: Option<Icc>,
    /// ICC(3,k), equal to Cronbach's α.
    pub icc_3_k: Option<Icc>,
}

/// All six correlations of an analysis of variance.
///
/// # Errors
/// [`AgreementError::Undefined`] when a single-rater correlation is 0/0:
/// all ratings equal, or subjects that do not differ at all beside raters
/// that do.
pub fn intraclass_correlations(table: &VarianceTable) -> Result<IccSet, AgreementError> {
    let b = table.between_subjects.mean_square;
    let w = table.within_subjects.mean_square;
    let j = table.between_raters.mean_square;
    let e = table.error.mean_square;
    let (n, k) = (table.subjects as f64, table.raters as f64);
    if table.total.sum_of_squares == 0.0 {
        return Err(AgreementError::Undefined(
            "all ratings are equal: without differences between subjects an intraclass correlation is 0/0",
        ));
    }
    if b == 0.0 && e == 0.0 {
        return Err(AgreementError::Undefined(
            "the raters differ but no subject differs from another: ICC(3,1) is 0/0",
        ));
    }

    // Only for two raters of two subjects who cross over exactly.
    if b + (k - 1.0) * e + k * (j - e) / n <= 0.0 {
        return Err(AgreementError::Undefined(
            "subjects and raters all have the same mean: ICC(2,1) divides by zero",
        ));
    }

    let subjects_dof = n - 1.0;
    let one_way = ratio_interval(b, w, subjects_dof, n * (k - 1.0));
    let two_way = ratio_interval(b, e, subjects_dof, subjects_dof * (k - 1.0));
    let icc_1_1 = Icc {
        value: (b - w) / (b + (k - 1.0) * w),
        ci95: one_way.map(|f| single_from_ratio(f, k)),
    };
    let icc_3_1 = Icc {
        value: (b - e) / (b + (k - 1.0) * e),
        ci95: two_way.map(|f| single_from_ratio(f, k)),
    };
    let icc_2_1 = Icc {
        value: (b - e) / (b + (k - 1.0) * e + k * (j - e) / n),
        ci95: absolute_interval(b, j, e, n, k),
    };
    // A lower limit at or below −1/(k − 1) leaves the average unbounded.
    let spearman_brown = |single: f64| {
        let divisor = 1.0 + single * (k - 1.0);
        if divisor > 0.0 {
            single * k / divisor
        } else {
            f64::NEG_INFINITY
        }
    };
    let absolute_divisor = b + (j - e) / n;
    Ok(IccSet {
        icc_1_1,
        icc_2_1,
        icc_3_1,
        icc_1_k: (b > 0.0).then(|| Icc {
            value: (b - w) / b,
            ci95: one_way.map(average_from_ratio),
        }),
        icc_2_k: (absolute_divisor > 0.0).then(|| Icc {
            value: (b - e) / absolute_divisor,
            ci95: icc_2_1.ci95.map(spearman_brown),
        }),
        icc_3_k: (b > 0.0).then(|| Icc {
            value: (b - e) / b,
            ci95: two_way.map(average_from_ratio),
        }),
    })
}

impl Interval {
    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self {
            low: f(self.low),
            high: f(self.high),
        }
    }
}

/// 97.5 % quantile of F; the arguments are positive by construction.
fn f975(numerator_dof: f64, denominator_dof: f64) -> f64 {
    f_quantile(0.975, numerator_dof, denominator_dof).unwrap_or(f64::NAN)
}

/// 95 % interval of the ratio of two expected mean squares.
fn ratio_interval(between: f64, noise: f64, dof: f64, noise_dof: f64) -> Interval {
    let ratio = between / noise;
    Interval {
        low: ratio / f975(dof, noise_dof),
        high: ratio * f975(noise_dof, dof),
    }
}

/// (F − 1)/(F + k − 1), with its limit for an infinite F.
fn single_from_ratio(f: f64, k: f64) -> f64 {
    if f.is_infinite() {
        1.0
    } else {
        (f - 1.0) / (f + k - 1.0)
    }
}

fn average_from_ratio(f: f64) -> f64 {
    1.0 - 1.0 / f
}

/// Interval of ICC(2,1), Shrout & Fleiss 1979.
fn absolute_interval(b: f64, j: f64, e: f64, n: f64, k: f64) -> Interval {
    let icc = (b - e) / (b + (k - 1.0) * e + k * (j - e) / n);
    // Satterthwaite's degrees of freedom, numerator and denominator
    // multiplied by E² so that E = 0 needs no special case.
    let rater_part = k * icc * j;
    let error_part = (n * (1.0 + (k - 1.0) * icc) - k * icc) * e;
    let dof = (k - 1.0) * (n - 1.0) * (rater_part + error_part).powi(2)
        / ((n - 1.0) * rater_part.powi(2) + error_part.powi(2));
    let spread = k * j + (k * n - k - n) * e;
    // Of positive variance components the formula gives at least k − 1. A
    // negative correlation can cancel its numerator, down to quantiles that
    // shut the estimate out, or 0/0: there the bound stands in.
    let dof = if dof.is_finite() {
        dof.max(k - 1.0)
    } else {
        k - 1.0
    };
    let upper_f = f975(n - 1.0, dof);
    let lower_f = f975(dof, n - 1.0);
    Interval {
        // Divided through by the quantile, which is infinite for a dof near 0.
        low: n * (b / upper_f - e) / (spread + n * b / upper_f),
        high: n * (lower_f * b - e) / (spread + n * lower_f * b),
    }
}
