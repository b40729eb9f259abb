//! The pixel size that sets which widths are looked for.

use super::AssistError;
use crate::film::Film;

/// Length a film is taken to have when nothing is known, mm: size 2 is
/// 31 × 41 mm, size 1 24 × 40 mm (film sizes of ISO 3665, SEEN-2).
const USUAL_LENGTH_MM: f64 = 40.0;

/// `known` if it can be a film's pitch; otherwise a likely one. The likely one
/// only chooses filter widths and never turns into a result.
///
/// # Errors
/// [`AssistError::Pitch`] when `known` is no film's.
pub(super) fn working_scale_mm_per_px(film: &Film, known: Option<f64>) -> Result<f64, AssistError> {
    match known {
        Some(mm_per_px) if (0.005..=0.2).contains(&mm_per_px) => Ok(mm_per_px),
        Some(mm_per_px) => Err(AssistError::Pitch { mm_per_px }),
        None => {
            let long_side = f64::from(film.width_px().max(film.height_px()));
            Ok((USUAL_LENGTH_MM / long_side).clamp(0.015, 0.1))
        }
    }
}
