//! The measures of one level (docs/before-after.md).

/// Removal smaller than this is none, mm: far below what any picture shows,
/// above what rounding leaves.
pub const NOTHING_MM: f64 = 5e-4;

/// A side of the canal, as seen from the orifice towards the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    Left,
    Right,
}

/// What was removed on each side, mm; negative where the wall came inwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Removal {
    pub left_mm: f64,
    pub right_mm: f64,
}

/// Why a level has no centring ratio.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoRatio {
    /// Nothing was removed on either side.
    NothingRemoved,
    /// A wall came inwards: registration error or new material.
    Negative(Side),
    /// A wall is missing.
    Absent,
}

/// Transport T = (a1 − a2) − (b1 − b2) (Gambill et al. 1996, J Endod
/// 22:369–375, text restating it SEEN) with a the left and b the right side:
/// positive towards the left. The centre moves by half of it (Fidler 2021).
pub fn transport(removal: Removal) -> f64 {
    removal.left_mm - removal.right_mm
}

/// Centring ratio: the smaller removal over the greater (Gambill et al. 1996:
/// "if not equal, the lower figure is the numerator"). 1 is perfect.
///
/// # Errors
/// [`NoRatio`]: without removal, or with negative removal, there is none.
pub fn centring_ratio(removal: Removal) -> Result<f64, NoRatio> {
    let Removal { left_mm, right_mm } = removal;
    if !(left_mm.is_finite() && right_mm.is_finite()) {
        return Err(NoRatio::Absent);
    }
    let (low, high) = (left_mm.min(right_mm), left_mm.max(right_mm));
    if low < -NOTHING_MM {
        let side = if left_mm < right_mm {
            Side::Left
        } else {
            Side::Right
        };
        return Err(NoRatio::Negative(side));
    }
    if high <= NOTHING_MM {
        return Err(NoRatio::NothingRemoved);
    }
    Ok(low.max(0.0) / high)
}

/// Difference of the two removals over the final width (of the type of Calhoun
/// & Montgomery 1988, MEM): 0 is perfect, the opposite of the centring ratio.
pub fn movement_ratio(removal: Removal, width_after_mm: f64) -> Option<f64> {
    let ratio = transport(removal).abs() / width_after_mm;
    (width_after_mm > NOTHING_MM && ratio.is_finite()).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gambill's measures by their formulas; the last columns DERIVED. a1, a2,
    /// b1, b2 are wall thicknesses before (1) and after (2).
    #[test]
    fn transport_and_centring_table() {
        for (a1, a2, b1, b2, t, ratio, shift) in [
            (1.20, 1.05, 1.10, 1.00, 0.05, Ok(0.6667), 0.025),
            (1.00, 0.90, 1.00, 0.90, 0.0, Ok(1.0), 0.0),
            (1.00, 0.80, 1.00, 1.00, 0.20, Ok(0.0), 0.100),
            (1.30, 1.10, 0.90, 0.85, 0.15, Ok(0.25), 0.075),
            (1.0, 1.0, 1.0, 1.0, 0.0, Err(NoRatio::NothingRemoved), 0.0),
            (
                1.00,
                1.02,
                1.00,
                0.80,
                -0.22,
                Err(NoRatio::Negative(Side::Left)),
                -0.11,
            ),
        ] {
            let removal = Removal {
                left_mm: a1 - a2,
                right_mm: b1 - b2,
            };
            assert!((transport(removal) - t).abs() < 1e-9);
            assert!((0.5 * transport(removal) - shift).abs() < 1e-9);
            match (centring_ratio(removal), ratio) {
                (Ok(found), Ok(expected)) => assert!((found - expected).abs() < 5e-5),
                (found, expected) => assert_eq!(found, expected),
            }
        }
    }

    /// DERIVED from the formula: width before 0.30.
    #[test]
    fn movement_over_width() {
        for (left_mm, right_mm, ratio) in [(0.15, 0.10, 0.0909), (0.1, 0.1, 0.0), (0.2, 0.0, 0.4)] {
            let found = movement_ratio(Removal { left_mm, right_mm }, 0.30 + left_mm + right_mm);
            assert!((found.unwrap() - ratio).abs() < 5e-5);
        }
    }
}
