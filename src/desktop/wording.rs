//! Numbers in words, as the window and the chart note say them.

use crate::units::Quantity;

/// Below this a tip counts as at the apex: the half of the last digit shown.
const AT_APEX_MM: f64 = 0.05;

/// Tip-to-apex in words: `1.2 mm short of the apex`.
pub fn tip_words(tip_to_apex_mm: f64) -> String {
    if tip_to_apex_mm.abs() < AT_APEX_MM {
        "at the apex".to_owned()
    } else if tip_to_apex_mm > 0.0 {
        format!("{tip_to_apex_mm:.1} mm short of the apex")
    } else {
        format!("{:.1} mm beyond the apex", -tip_to_apex_mm)
    }
}

/// Decimals such that the uncertainty shows at most two significant digits
/// and at least one (JCGM 100, 7.2.6).
fn decimals_for(u95: f64) -> usize {
    if !(u95.is_finite() && u95 > 0.0) {
        return 2;
    }
    (1 - u95.log10().floor() as i32).clamp(0, 2) as usize
}

/// A number with its uncertainty and unit: `20.4 ± 0.3 mm`.
pub fn with_uncertainty(quantity: &Quantity, unit: &str) -> String {
    let decimals = decimals_for(quantity.u95);
    let gap = if unit == "°" { "" } else { " " };
    format!(
        "{:.decimals$} ± {:.decimals$}{gap}{unit}",
        quantity.value, quantity.u95
    )
}

/// The uncertainty alone: `± 0.3 mm`.
pub fn uncertainty_alone(quantity: &Quantity, unit: &str) -> String {
    let decimals = decimals_for(quantity.u95);
    format!("± {:.decimals$} {unit}", quantity.u95)
}

/// A chart length: two decimals only where quarters need them.
pub fn chart_length(mm: f64) -> String {
    if ((mm * 2.0).round() - mm * 2.0).abs() < 1e-6 {
        format!("{mm:.1} mm")
    } else {
        format!("{mm:.2} mm")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_side_of_the_apex_is_in_words_not_in_a_sign() {
        assert_eq!(tip_words(1.24), "1.2 mm short of the apex");
        assert_eq!(tip_words(-0.6), "0.6 mm beyond the apex");
        assert_eq!(tip_words(0.02), "at the apex");
        assert_eq!(tip_words(-0.049), "at the apex");
    }

    #[test]
    fn value_and_uncertainty_end_at_the_same_digit() {
        let q = |value, u95| Quantity { value, u95 };
        assert_eq!(with_uncertainty(&q(20.449, 0.314), "mm"), "20.45 ± 0.31 mm");
        assert_eq!(with_uncertainty(&q(35.12, 4.26), "°"), "35.1 ± 4.3°");
        assert_eq!(with_uncertainty(&q(35.12, 14.26), "°"), "35 ± 14°");
        assert_eq!(with_uncertainty(&q(1.0, 0.0), "mm"), "1.00 ± 0.00 mm");
    }

    #[test]
    fn quarters_show_two_decimals() {
        assert_eq!(chart_length(20.0), "20.0 mm");
        assert_eq!(chart_length(20.25), "20.25 mm");
        assert_eq!(chart_length(20.5), "20.5 mm");
    }
}
