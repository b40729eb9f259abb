//! Numbers as a reader sees them.

use crate::uncertainty::rounding::round_result;
use crate::units::Quantity;

/// Shown where a quantity cannot be had.
pub const ABSENT: &str = "–";

/// `value ± U`, rounded to the place of U; a true minus sign. Without an
/// uncertainty, two decimals.
pub fn with_uncertainty(quantity: Quantity) -> String {
    match rounded(quantity) {
        (value, Some(uncertainty)) => format!("{value} ± {uncertainty}"),
        (value, None) => value,
    }
}

/// The value alone, rounded to the same place.
pub fn rounded_by_uncertainty(quantity: Quantity) -> String {
    rounded(quantity).0
}

fn rounded(quantity: Quantity) -> (String, Option<String>) {
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

/// A chart value: one decimal, two where it stands on a quarter.
pub fn chart(mm: f64) -> String {
    let on_halves = (mm * 2.0 - (mm * 2.0).round()).abs() < 1e-6;
    fixed(mm, if on_halves { 1 } else { 2 })
}

/// The same, or a dash.
pub fn or_absent(quantity: Option<Quantity>) -> String {
    quantity.map_or_else(|| ABSENT.to_owned(), with_uncertainty)
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

    #[test]
    fn signs_are_true_and_zero_has_none() {
        let shown = |value, u95| with_uncertainty(Quantity { value, u95 });
        assert_eq!(shown(20.4321, 0.31), "20.43 ± 0.31");
        assert_eq!(shown(-0.61, 0.15), "−0.61 ± 0.15");
        assert_eq!(shown(-0.001, 0.15), "0.00 ± 0.15");
        assert_eq!(shown(21.0, 0.0), "21.00");
        let value = rounded_by_uncertainty(Quantity {
            value: -0.614,
            u95: 0.15,
        });
        assert_eq!(value, "−0.61");
        assert_eq!(chart(20.5), "20.5");
        assert_eq!(chart(20.25), "20.25");
    }
}
