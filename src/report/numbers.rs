//! Numbers as a reader sees them.

use crate::uncertainty::rounding::{digits, fixed, with_u95};
use crate::units::Quantity;

/// Shown where a quantity cannot be had.
pub const ABSENT: &str = "–";

/// `value ± U` without its unit.
pub fn with_uncertainty(quantity: Quantity) -> String {
    with_u95(quantity, "")
}

/// The value alone, rounded to the same place.
pub fn rounded_by_uncertainty(quantity: Quantity) -> String {
    digits(quantity).0
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chart_value_has_two_decimals_on_quarters_only() {
        assert_eq!(chart(20.5), "20.5");
        assert_eq!(chart(20.25), "20.25");
    }

    #[test]
    fn the_value_alone_keeps_the_place_of_its_uncertainty() {
        let quantity = Quantity {
            value: -0.614,
            u95: 0.15,
        };
        assert_eq!(rounded_by_uncertainty(quantity), "−0.61");
    }
}
