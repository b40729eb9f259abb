//! The limits of the rows that are measured or follow from the tooth's number.

use super::Shares;
use crate::curvature::DifficultyClass::{self, High, Low, Moderate};
use crate::statistics::normal_share_above;
use crate::tooth::ToothNumber;

/// A tooth longer than this reads high, mm (MEM-H).
const LONG_TOOTH_MM: f64 = 25.0;
/// An apex open this far reads moderate, and above the second limit high, mm
/// (below the first SEEN-2, the second MEM-H).
const OPEN_APEX_MM: [f64; 2] = [1.0, 1.5];

/// Without the rounding of arithmetic, which must not push a number over a
/// limit it stands on.
fn rounded(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// Length of the tooth: above 25 mm high; the form has no moderate. `None` for
/// what is no number.
pub fn tooth_length_class(length_mm: f64) -> Option<DifficultyClass> {
    let length_mm = rounded(length_mm);
    (!length_mm.is_nan()).then_some(if length_mm > LONG_TOOTH_MM { High } else { Low })
}

/// Opening of the apex: below 1 mm low, 1 to 1.5 mm moderate, above high;
/// exactly 1 and 1.5 are moderate (our choice). `None` for what is no number.
pub fn apex_opening_class(width_mm: f64) -> Option<DifficultyClass> {
    let width_mm = rounded(width_mm);
    if width_mm.is_nan() {
        None
    } else if width_mm < OPEN_APEX_MM[0] {
        Some(Low)
    } else if width_mm <= OPEN_APEX_MM[1] {
        Some(Moderate)
    } else {
        Some(High)
    }
}

/// Inclination of the tooth: below 10° low, 10–30° moderate, above 30° high;
/// exactly 10 and 30 are moderate (our choice). `None` for what is no number.
pub fn inclination_class(angle_rad: f64) -> Option<DifficultyClass> {
    DifficultyClass::of(angle_rad, false)
}

/// Place in the arch: front teeth and premolars low, first molars moderate,
/// second and third molars high. `None` for deciduous teeth, of which the form
/// does not speak.
pub fn position_class(tooth: ToothNumber) -> Option<DifficultyClass> {
    if tooth.is_deciduous() {
        return None;
    }
    Some(match tooth.fdi() % 10 {
        ..=5 => Low,
        6 => Moderate,
        _ => High,
    })
}

/// Shares of the classes of a length known to a standard uncertainty, mm;
/// normal.
pub fn tooth_length_shares(length_mm: f64, u_mm: f64) -> Option<Shares> {
    let high = normal_share_above(LONG_TOOTH_MM, length_mm, u_mm)?;
    Some([1.0 - high, 0.0, high])
}

/// The same of an opening.
pub fn apex_opening_shares(width_mm: f64, u_mm: f64) -> Option<Shares> {
    let [open, wide] = OPEN_APEX_MM.map(|limit| normal_share_above(limit, width_mm, u_mm));
    let (open, wide) = (open?, wide?);
    Some([1.0 - open, open - wide, wide])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tooth::ToothNotation;

    #[test]
    fn limits_on_both_sides() {
        for (mm, class) in [(24.999, Low), (25.0, Low), (25.001, High)] {
            assert_eq!(tooth_length_class(mm), Some(class), "{mm}");
        }
        for (mm, class) in [
            (0.999, Low),
            (1.0, Moderate),
            (1.5, Moderate),
            (1.501, High),
        ] {
            assert_eq!(apex_opening_class(mm), Some(class), "{mm}");
        }
        for (degrees, class) in [
            (9.999_f64, Low),
            (10.0, Moderate),
            (30.0, Moderate),
            (30.001, High),
        ] {
            assert_eq!(inclination_class(degrees.to_radians()), Some(class));
        }
        assert_eq!(tooth_length_class(f64::NAN), None);
        assert_eq!(apex_opening_class(f64::NAN), None);
    }

    #[test]
    fn the_tooth_tells_its_place() {
        for (number, class) in [
            ("11", Some(Low)),
            ("45", Some(Low)),
            ("36", Some(Moderate)),
            ("27", Some(High)),
            ("48", Some(High)),
            ("75", None),
        ] {
            let tooth = ToothNumber::parse(ToothNotation::Fdi, number).unwrap();
            assert_eq!(position_class(tooth), class, "{number}");
        }
    }

    /// Upper tail of the normal distribution one standard deviation away:
    /// 0.1587; 24.5 ± 0.4 mm exceeds 25 mm with 0.1056 (DERIVED).
    #[test]
    fn shares_of_the_normal_distribution() {
        let [_, moderate, high] = tooth_length_shares(24.5, 0.4).unwrap();
        assert!((high - 0.1056).abs() < 5e-5 && moderate == 0.0);
        let [low, moderate, high] = apex_opening_shares(1.1, 0.1).unwrap();
        assert!((low - 0.1587).abs() < 5e-5, "{low}");
        assert!((low + moderate + high - 1.0).abs() < 1e-12 && high < 1e-4);
    }
}
