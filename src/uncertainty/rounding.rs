//! Rounding of a value and its uncertainty for display (JCGM 100:2008,
//! 7.2.6).

use std::fmt;

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

impl fmt::Display for Rounded {
    /// `10.058 ± 0.027`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = self.decimals.max(0) as usize;
        write!(
            f,
            "{:.decimals$} ± {:.decimals$}",
            self.value, self.uncertainty
        )
    }
}
