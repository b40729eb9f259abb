//! Error of repeated measurement: Dahlberg's error with a test for bias, the
//! within-subject standard deviation and the repeatability derived from it.

use serde::Serialize;

use super::{AgreementError, TWO_SIDED_95, check_pairs, icc::VarianceTable};
use crate::statistics::{mean, sample_sd, t_two_sided_p};

/// Dahlberg's error of double measurements, in their unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Dahlberg {
    pub pairs: usize,
    /// √(Σd²/2n): a constant bias between the two series counts as error.
    pub error: f64,
    /// The same about the mean difference, √(Σ(d − d̄)²/2(n − 1)); `None` for
    /// one pair.
    pub error_without_bias: Option<f64>,
    /// Mean difference, first − second.
    pub mean_difference: f64,
    /// Paired t of the mean difference (Houston 1983, Am J Orthod
    /// 83:382–90, asks for it); `None` when the differences do not vary.
    pub t: Option<f64>,
    /// Its two-sided probability under no bias.
    pub p: Option<f64>,
}

/// Dahlberg's error of paired measurements.
///
/// # Errors
/// Unpaired, missing, or no pair.
pub fn dahlberg(first: &[f64], second: &[f64]) -> Result<Dahlberg, AgreementError> {
    check_pairs("Dahlberg's error", first, second, 1)?;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let n = differences.len() as f64;
    let squares: f64 = differences.iter().map(|d| d * d).sum();
    let mean_difference = mean(&differences);
    let sd = sample_sd(&differences);
    let t = (sd > 0.0).then(|| mean_difference / (sd / n.sqrt()));
    Ok(Dahlberg {
        pairs: differences.len(),
        error: (squares / (2.0 * n)).sqrt(),
        error_without_bias: sd.is_finite().then_some(sd / std::f64::consts::SQRT_2),
        mean_difference,
        t,
        p: t.and_then(|t| t_two_sided_p(t, n - 1.0)),
    })
}

/// Spread of repeated measurements of the same subjects, in their unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Repeatability {
    pub subjects: usize,
    /// Measurements of each subject.
    pub repeats: usize,
    /// Sw: root of the within-subjects mean square.
    pub within_subject_sd: f64,
    /// 1.96 √2 Sw: two measurements of one subject differ by less in 95 % of
    /// cases.
    pub repeatability_coefficient: f64,
    /// 2.8 Sw, the rounded factor of ISO 5725.
    pub iso_5725_limit: f64,
    /// 2 √(Σd²/n), the coefficient of the 1986 paper; only for two repeats.
    pub two_sd_of_differences: Option<f64>,
}

/// The table speaks of an intraclass correlation and of raters.
fn in_words_of_repeats(error: AgreementError) -> AgreementError {
    match error {
        AgreementError::TooFew {
            what,
            needed,
            found,
            ..
        } => AgreementError::TooFew {
            measure: "repeatability",
            what: match what {
                "raters" => "repeats",
                subjects => subjects,
            },
            needed,
            found,
        },
        other => other,
    }
}

/// Repeatability from `measurements[subject][repeat]`.
///
/// # Errors
/// Fewer than two subjects or repeats, unequal rows, a missing value.
pub fn repeatability(measurements: &[Vec<f64>]) -> Result<Repeatability, AgreementError> {
    let table = VarianceTable::from_ratings(measurements).map_err(in_words_of_repeats)?;
    let sd = table.within_subjects.mean_square.sqrt();
    Ok(Repeatability {
        subjects: table.subjects,
        repeats: table.raters,
        within_subject_sd: sd,
        repeatability_coefficient: TWO_SIDED_95 * std::f64::consts::SQRT_2 * sd,
        iso_5725_limit: 2.8 * sd,
        // For two repeats Σd²/n = 2 Sw².
        two_sd_of_differences: (table.raters == 2).then_some(2.0 * std::f64::consts::SQRT_2 * sd),
    })
}
