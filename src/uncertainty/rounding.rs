//! Rounding of a value and its uncertainty for display (JCGM 100:2008,
//! 7.2.6).

use crate::units::Quantity;

/// A value and its uncertainty rounded to the same place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounded {
    pub value: f64,
    pub uncertainty: f64,
    /// Digits after the decimal point; negative when tens or hundreds were
    /// the last place kept.
    pub decimals: i32,
}

/// An excess of the uncertainty over a two-digit number that is dropped
/// instead of rounded up, in units of the last digit: the standard rounds
/// 10.47 up to 11 but lets 28.05 go down to 28.
const DROPPED_EXCESS: f64 = 0.05;

/// Rounds an uncertainty up to two significant digits and the value to the
/// same place. `None` unless both are finite and the uncertainty positive.
pub fn round_result(value: f64, uncertainty: f64) -> Option<Rounded> {
    if !(value.is_finite() && uncertainty.is_finite() && uncertainty > 0.0) {
        return None;
    }
    let mut decimals = 1 - uncertainty.log10().floor() as i32;
    // Slack for numbers that binary fractions cannot hold, such as 28.05.
    let mut digits = (shift(uncertainty, decimals) - DROPPED_EXCESS - 1e-9).ceil();
    if digits >= 100.0 {
        decimals -= 1;
        digits = 10.0;
    }
    let rounded = Rounded {
        // Adding zero turns −0 into 0.
        value: shift(shift(value, decimals).round(), -decimals) + 0.0,
        uncertainty: shift(digits, -decimals),
        decimals,
    };
    (rounded.value.is_finite() && rounded.uncertainty.is_finite()).then_some(rounded)
}

/// `number` · 10^`places`, by division where that is exact.
fn shift(number: f64, places: i32) -> f64 {
    if places < 0 {
        number / 10.0_f64.powi(-places)
    } else {
        number * 10.0_f64.powi(places)
    }
}

/// `20.43 ± 0.31 mm`, `24.0 ± 4.2°`: rounded to the place of U, with a true
/// minus sign. Where U is unknown the value alone, with two decimals.
pub fn with_u95(quantity: Quantity, unit: &str) -> String {
    let unit = spaced(unit);
    match digits(quantity) {
        (value, Some(u95)) => format!("{value} ± {u95}{unit}"),
        (value, None) => format!("{value}{unit}"),
    }
}

/// A value with an interval that is not even about it: `6.1 mm (4.2–9.9)`,
/// rounded to the place that half the interval's width is rounded to, its ends
/// outwards.
pub fn with_interval(value: f64, [low, high]: [f64; 2], unit: &str) -> String {
    let rounded = round_result(value, 0.5 * (high - low));
    let decimals = rounded.map_or(2, |rounded| rounded.decimals.max(0));
    // Slack for numbers that binary fractions cannot hold.
    let low = shift((shift(low, decimals) + 1e-9).floor(), -decimals);
    let high = shift((shift(high, decimals) - 1e-9).ceil(), -decimals);
    let text = |number| fixed(number, decimals as usize);
    format!(
        "{}{} ({}–{})",
        text(value),
        spaced(unit),
        text(low),
        text(high)
    )
}

/// Value and U of [`with_u95`] on their own.
pub fn digits(quantity: Quantity) -> (String, Option<String>) {
    match round_result(quantity.value, quantity.u95) {
        Some(rounded) => {
            let decimals = rounded.decimals.max(0) as usize;
            (
                fixed(rounded.value, decimals),
                Some(fixed(rounded.uncertainty, decimals)),
            )
        }
        None => (fixed(quantity.value, 2), None),
    }
}

/// A unit as it follows a number: a degree sign stands close to it, other
/// units and words after a space.
pub fn spaced(unit: &str) -> String {
    match unit {
        "" | "°" => unit.to_owned(),
        _ => format!(" {unit}"),
    }
}

/// A number with fixed decimals and a true minus sign; never `-0.0`.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| matches!(b, b'0' | b'.')) => digits.to_owned(),
        Some(digits) => format!("−{digits}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(value: f64, u95: f64, unit: &str) -> String {
        with_u95(Quantity { value, u95 }, unit)
    }

    /// JCGM 100 7.2.6 (SEEN): 10.05762 Ω with 27 mΩ is
    /// 10.058.
    #[test]
    fn uneven_intervals_are_rounded_as_their_half_width() {
        for (value, ends, text) in [
            (6.1, [4.2, 9.9], "6.1 mm (4.2–9.9)"),
            (14.1, [5.2, 125.6], "14 mm (5–126)"),
            (36.8, [22.6, 61.5], "37 mm (22–62)"),
            (1.234, [1.211, 1.267], "1.234 mm (1.211–1.267)"),
        ] {
            assert_eq!(with_interval(value, ends, "mm"), text);
        }
    }

    #[test]
    fn decimals_follow_the_uncertainty() {
        assert_eq!(shown(10.05762, 0.027, "Ω"), "10.058 ± 0.027 Ω");
        assert_eq!(shown(24.04, 4.18, "°"), "24.0 ± 4.2°");
        assert_eq!(shown(120.4, 22.0, "mm"), "120 ± 22 mm");
        assert_eq!(shown(20.4321, 0.31, ""), "20.43 ± 0.31");
    }

    #[test]
    fn signs_are_true_and_zero_has_none() {
        assert_eq!(shown(-0.61, 0.15, "mm"), "−0.61 ± 0.15 mm");
        assert_eq!(shown(-0.001, 0.15, "mm"), "0.00 ± 0.15 mm");
        assert_eq!(shown(21.0, 0.0, ""), "21.00");
        let numbers = [-1.234, -0.004, -0.0, 0.004, 2.5].map(|value| fixed(value, 2));
        assert_eq!(numbers, ["−1.23", "0.00", "0.00", "0.00", "2.50"]);
    }
}
