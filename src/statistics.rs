//! Means, spreads and the quantiles of the usual distributions.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};
use statrs::function::beta::beta_reg;
use statrs::function::gamma::ln_gamma;

/// Two-sided 95 % quantile of the standard normal distribution.
pub const Z95: f64 = 1.959_963_984_540_054;

/// Arithmetic mean; NaN for an empty slice.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Sample standard deviation (divisor n − 1); NaN for fewer than two values.
pub fn sample_sd(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return f64::NAN;
    }
    let centre = mean(values);
    let squares: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
    (squares / (values.len() - 1) as f64).sqrt()
}

/// Pearson's product-moment correlation of paired values; `None` when either
/// side does not vary or the lengths differ.
pub fn correlation(x: &[f64], y: &[f64]) -> Option<f64> {
    if x.len() != y.len() || x.len() < 2 {
        return None;
    }
    let (mean_x, mean_y) = (mean(x), mean(y));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (&x, &y) in x.iter().zip(y) {
        xx += (x - mean_x).powi(2);
        yy += (y - mean_y).powi(2);
        xy += (x - mean_x) * (y - mean_y);
    }
    (xx > 0.0 && yy > 0.0).then(|| (xy / (xx * yy).sqrt()).clamp(-1.0, 1.0))
}

/// Quantile `p` (0–1) by linear interpolation between order statistics, the
/// values reordered in place (selection, no full sort). `None` when there are
/// no values, `p` is outside 0–1 or a value is NaN.
pub fn quantile(values: &mut [f64], p: f64) -> Option<f64> {
    if values.is_empty() || !(0.0..=1.0).contains(&p) || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let position = p * (values.len() - 1) as f64;
    let below = position.floor() as usize;
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    let fraction = position - below as f64;
    if fraction == 0.0 || above.is_empty() {
        return Some(low);
    }
    let high = above.iter().copied().fold(f64::INFINITY, f64::min);
    Some(low + fraction * (high - low))
}

/// Quantile `p` of the standard normal distribution; `None` outside (0, 1).
pub fn normal_quantile(p: f64) -> Option<f64> {
    (p > 0.0 && p < 1.0).then(|| Normal::standard().inverse_cdf(p))
}

/// Probability that a standard normal number is at most `z`; NaN for NaN.
pub fn normal_cdf(z: f64) -> f64 {
    if z.is_nan() {
        return f64::NAN;
    }
    Normal::standard().cdf(z)
}

/// Share of a normal distribution above `limit`; all or nothing where `sd` is
/// 0, and the limit itself counts as above. `None` for numbers that are not
/// finite or a negative `sd`.
pub fn normal_share_above(limit: f64, mean: f64, sd: f64) -> Option<f64> {
    if !(limit.is_finite() && mean.is_finite() && sd.is_finite() && sd >= 0.0) {
        return None;
    }
    if sd == 0.0 {
        return Some(f64::from(u8::from(mean >= limit)));
    }
    Some(Normal::standard().sf((limit - mean) / sd))
}

/// Quantile `p` of Student's t with `dof` degrees of freedom, which need not
/// be whole and may be infinite (the normal distribution). `None` outside
/// 0 < p < 1 or without degrees of freedom.
pub fn t_quantile(p: f64, dof: f64) -> Option<f64> {
    if dof > 1000.0 {
        return normal_quantile(p).map(|z| t_from_normal(z, dof));
    }
    let t = StudentsT::new(0.0, 1.0, dof).ok()?;
    (p > 0.0 && p < 1.0).then(|| t.inverse_cdf(p))
}

/// Student's t quantile from the normal one by the Cornish–Fisher expansion
/// in 1/dof (Abramowitz & Stegun 26.7.5). Above 1000 degrees of freedom it is
/// right to 1e-11, where inverting the incomplete beta function loses digits.
fn t_from_normal(z: f64, dof: f64) -> f64 {
    let z2 = z * z;
    let g1 = z * (z2 + 1.0) / 4.0;
    let g2 = z * ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
    let g3 = z * (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
    z + (g1 + (g2 + g3 / dof) / dof) / dof
}

/// Probability that noncentral t with `dof` degrees of freedom and
/// noncentrality `delta` is at most `t` (Lenth 1989, Appl Stat 38:185–9, whose
/// series is summed about its greatest term). `None` without degrees of
/// freedom or for numbers that are not finite.
pub fn noncentral_t_cdf(t: f64, dof: f64, delta: f64) -> Option<f64> {
    if !(t.is_finite() && delta.is_finite() && dof.is_finite() && dof > 0.0) {
        return None;
    }
    if t < 0.0 {
        return Some(1.0 - noncentral_t_cdf(-t, dof, -delta)?);
    }
    let x = t * t / (t * t + dof);
    let half = delta * delta / 2.0;
    let mut sum = normal_cdf(-delta);
    if x > 0.0 && half > 0.0 {
        // Weights of a Poisson distribution and of one moved by a half: what
        // lies farther out than this many standard deviations is nothing.
        let reach = 12.0 * half.sqrt() + 30.0;
        let (first, last) = ((half - reach).max(0.0) as u64, (half + reach) as u64);
        for j in first..=last {
            let j = j as f64;
            let log = j * half.ln() - half;
            let p = 0.5 * (log - ln_gamma(j + 1.0)).exp();
            let q = delta / (2.0 * std::f64::consts::SQRT_2) * (log - ln_gamma(j + 1.5)).exp();
            sum += p * beta_reg(j + 0.5, dof / 2.0, x) + q * beta_reg(j + 1.0, dof / 2.0, x);
        }
    } else if x > 0.0 {
        sum += 0.5 * beta_reg(0.5, dof / 2.0, x);
    }
    Some(sum.clamp(0.0, 1.0))
}

/// Quantile `p` of noncentral t, by halving. `None` outside 0 < p < 1 or where
/// [`noncentral_t_cdf`] gives nothing.
pub fn noncentral_t_quantile(p: f64, dof: f64, delta: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    let (mut low, mut high) = (delta - 1.0, delta + 1.0);
    let mut step = 1.0;
    while noncentral_t_cdf(low, dof, delta)? > p {
        step *= 2.0;
        low -= step;
    }
    step = 1.0;
    while noncentral_t_cdf(high, dof, delta)? < p {
        step *= 2.0;
        high += step;
        if !high.is_finite() {
            return None;
        }
    }
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if noncentral_t_cdf(middle, dof, delta)? < p {
            low = middle;
        } else {
            high = middle;
        }
        if high - low <= 1e-12 * high.abs().max(1.0) {
            break;
        }
    }
    Some(f64::midpoint(low, high))
}

/// Quantile `p` of noncentral t with many degrees of freedom (Johnson & Welch
/// 1940, Biometrika 31:362–89, MEM-H). `None` outside 0 < p < 1.
pub fn approximate_noncentral_t_quantile(p: f64, dof: f64, delta: f64) -> Option<f64> {
    let z = normal_quantile(p)?;
    // Mean of chi over √dof, and what is left of its variance.
    let mean = (2.0 / dof).sqrt() * (ln_gamma((dof + 1.0) / 2.0) - ln_gamma(dof / 2.0)).exp();
    let variance = 1.0 - mean * mean;
    let root = (mean * mean + variance * (delta * delta - z * z)).sqrt();
    Some((delta * mean + z * root) / (mean * mean - z * z * variance))
}

/// Probability that |t| exceeds `t` with `dof` degrees of freedom.
pub fn t_two_sided_p(t: f64, dof: f64) -> Option<f64> {
    let distribution = StudentsT::new(0.0, 1.0, dof).ok()?;
    (!t.is_nan()).then(|| (2.0 * distribution.sf(t.abs())).min(1.0))
}

/// Quantile `p` of chi-squared with `dof` degrees of freedom, which need not
/// be whole. `None` outside 0 < p < 1 or without degrees of freedom.
pub fn chi_squared_quantile(p: f64, dof: f64) -> Option<f64> {
    let chi_squared = ChiSquared::new(dof).ok()?;
    (p > 0.0 && p < 1.0).then(|| chi_squared.inverse_cdf(p))
}

/// Quantile `p` of Fisher's F; degrees of freedom need not be whole. Below
/// about 0.2 degrees of freedom an upper quantile may come out infinite where
/// it is merely astronomical. `None` outside 0 < p < 1 or without degrees of freedom.
pub fn f_quantile(p: f64, numerator_dof: f64, denominator_dof: f64) -> Option<f64> {
    let f = FisherSnedecor::new(numerator_dof, denominator_dof).ok()?;
    (p > 0.0 && p < 1.0).then(|| f.inverse_cdf(p))
}

/// Probability that χ² with so many degrees of freedom exceeds `x`; `None` for
/// values that have none.
pub fn chi_squared_share_above(x: f64, dof: f64) -> Option<f64> {
    let usable = x >= 0.0 && dof > 0.0 && dof.is_finite();
    usable.then(|| ChiSquared::new(dof).ok().map(|d| d.sf(x)))?
}

/// Probability that F with these degrees of freedom exceeds `x`; `None` for
/// values that have none.
pub fn f_share_above(x: f64, numerator_dof: f64, denominator_dof: f64) -> Option<f64> {
    let usable = x >= 0.0 && numerator_dof > 0.0 && denominator_dof > 0.0;
    if !usable {
        return None;
    }
    let f = FisherSnedecor::new(numerator_dof, denominator_dof).ok()?;
    Some(if x.is_finite() { f.sf(x) } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SciPy 1.17 `scipy.stats` `t.ppf`, `f.ppf` and `chi2.ppf`, printed to 12
    /// digits by tests/scripts/quantile_reference.py.
    const REFERENCE: &str = include_str!("../tests/data/quantiles.csv");

    #[test]
    fn quantiles_equal_scipy() {
        let mut seen = 0;
        for line in REFERENCE.lines().skip(1) {
            let mut cells = line.split(',');
            let kind = cells.next().unwrap();
            let n: Vec<f64> = cells.map(|c| c.parse().unwrap()).collect();
            let (p, a, b, expected) = (n[0], n[1], n[2], n[3]);
            let got = match kind {
                "t" => t_quantile(p, a),
                "f" => f_quantile(p, a, b),
                "chi2" => chi_squared_quantile(p, a),
                other => panic!("unknown row {other}"),
            }
            .unwrap();
            assert!(
                (got - expected).abs() <= 1e-9 * expected.abs(),
                "{line}: {got}"
            );
            seen += 1;
        }
        assert!(seen > 100);
    }

    #[test]
    fn quantile_interpolates_like_numpy() {
        // numpy.quantile([4, 1, 3, 2], p) = 1.75, 2.5, 3.85 (linear).
        for (p, expected) in [
            (0.25, 1.75),
            (0.5, 2.5),
            (0.95, 3.85),
            (0.0, 1.0),
            (1.0, 4.0),
        ] {
            let got = quantile(&mut [4.0, 1.0, 3.0, 2.0], p).unwrap();
            assert!((got - expected).abs() < 1e-12, "{p}: {got}");
        }
        assert_eq!(quantile(&mut [], 0.5), None);
        assert_eq!(quantile(&mut [1.0, f64::NAN], 0.5), None);
        assert_eq!(quantile(&mut [1.0], 1.5), None);
    }

    #[test]
    fn impossible_arguments_give_nothing() {
        assert_eq!(t_quantile(0.975, 0.0), None);
        assert_eq!(t_quantile(0.975, f64::NAN), None);
        assert_eq!(t_quantile(1.0, 5.0), None);
        assert_eq!(f_quantile(0.5, -1.0, 3.0), None);
        assert_eq!(correlation(&[1.0, 1.0], &[1.0, 2.0]), None);
    }
}
