//! How many subjects a study of agreement needs.

use crate::statistics::{Z95, noncentral_t_cdf, t_quantile};

/// Most subjects looked for.
const MOST_SUBJECTS: usize = 100_000;

/// Power with which both 95 % confidence intervals of the 95 % limits of
/// agreement lie within ± `margin`, for differences with that mean and
/// standard deviation (Lu et al. 2016, Int J Biostat 12:20150039; formula as
/// in public code, SEEN).
pub fn limits_power(n: usize, mean: f64, sd: f64, margin: f64) -> Option<f64> {
    if n < 3 || !(sd > 0.0 && margin > 0.0 && mean.is_finite()) {
        return None;
    }
    let n_f = n as f64;
    let error = sd * (1.0 / n_f + Z95 * Z95 / (2.0 * (n_f - 1.0))).sqrt();
    let t = t_quantile(0.975, n_f - 1.0)?;
    let within = |room: f64| Some(1.0 - noncentral_t_cdf(t, n_f - 1.0, room / error)?);
    let upper = within(margin - mean - Z95 * sd)?;
    let lower = within(margin + mean - Z95 * sd)?;
    Some((upper + lower - 1.0).max(0.0))
}

/// The least number of subjects with at least that power; `None` where the
/// limits themselves do not lie within the margin, or no number would do.
pub fn subjects_for_limits(mean: f64, sd: f64, margin: f64, power: f64) -> Option<usize> {
    if mean.abs() + Z95 * sd >= margin {
        return None;
    }
    let enough = |n: usize| limits_power(n, mean, sd, margin).is_some_and(|found| found >= power);
    least(enough)
}

/// Subjects for an intraclass correlation `icc` of `raters` whose 95 %
/// interval is `width` wide (Bonett 2002, Stat Med 21:1331–5), not rounded.
pub fn subjects_for_icc(icc: f64, raters: usize, width: f64) -> Option<f64> {
    if !(0.0..1.0).contains(&icc) || raters < 2 || width.is_nan() || width <= 0.0 {
        return None;
    }
    let k = raters as f64;
    let product = (1.0 - icc) * (1.0 + (k - 1.0) * icc);
    let n = 8.0 * Z95 * Z95 * product * product / (k * (k - 1.0) * width * width) + 1.0;
    // The author's correction for two raters.
    Some(if raters == 2 && icc >= 0.7 {
        n + 5.0 * icc
    } else {
        n
    })
}

/// Width of the 95 % interval of an intraclass correlation from `subjects`
/// (the same formula).
pub fn icc_width(icc: f64, raters: usize, subjects: usize) -> Option<f64> {
    if subjects < 2 || raters < 2 || !(0.0..1.0).contains(&icc) {
        return None;
    }
    let k = raters as f64;
    let product = (1.0 - icc) * (1.0 + (k - 1.0) * icc);
    let n = (subjects - 1) as f64;
    Some(Z95 * (8.0 * product * product / (k * (k - 1.0) * n)).sqrt())
}

/// How many times more measurements are needed where `size` of them come from
/// one tooth or student whose members correlate by `icc`.
pub fn design_effect(size: f64, icc: f64) -> f64 {
    1.0 + (size - 1.0) * icc
}

/// The least number for which `enough` holds, which then holds for all larger.
fn least(enough: impl Fn(usize) -> bool) -> Option<usize> {
    let mut high = 4;
    while !enough(high) {
        if high >= MOST_SUBJECTS {
            return None;
        }
        high *= 2;
    }
    let mut low = 2;
    while high - low > 1 {
        let middle = usize::midpoint(low, high);
        if enough(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}
