//! Numbers as a reader sees them.

use crate::units::Quantity;

/// Shown where a quantity cannot be had.
pub const ABSENT: &str = "–";

/// `value ± U`, U at two significant digits and the value to the same place
/// (JCGM 100, 7.2.6); a true minus sign.
pub fn with_uncertainty(quantity: Quantity) -> String {
    let Quantity { value, u95 } = quantity;
    if !(u95 > 0.0 && u95.is_finite() && value.is_finite()) {
        return fixed(value, 2);
    }
    // Rounding 0.0996 gives 0.10, so the place is found on the rounded U.
    let place = |u: f64| (1 - u.log10().floor() as i32).clamp(0, 4) as usize;
    let decimals = place(format!("{u95:.1e}").parse().unwrap_or(u95));
    format!("{} ± {u95:.decimals$}", fixed(value, decimals))
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

    fn shown(value: f64, u95: f64) -> String {
        with_uncertainty(Quantity { value, u95 })
    }

    /// JCGM 100, 7.2.6: at most two significant digits in U, the estimate
    /// rounded to be consistent with it.
    #[test]
    fn rounded_to_the_place_of_u() {
        assert_eq!(shown(20.4321, 0.3149), "20.43 ± 0.31");
        assert_eq!(shown(24.04, 4.26), "24.0 ± 4.3");
        assert_eq!(shown(24.04, 12.6), "24 ± 13");
        assert_eq!(shown(10.05762, 0.0027), "10.0576 ± 0.0027");
        assert_eq!(shown(0.1, 0.0996), "0.10 ± 0.10");
        assert_eq!(shown(1.0, 9.96), "1 ± 10");
        assert_eq!(shown(-0.61, 0.15), "−0.61 ± 0.15");
        assert_eq!(shown(-0.001, 0.15), "0.00 ± 0.15");
        assert_eq!(shown(21.0, 0.0), "21.00");
    }
}
