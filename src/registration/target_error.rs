//! How far a place is off after registration, predicted from the marks.
//!
//! The plane form of the target registration error (first of this kind:
//! Fitzpatrick, West & Maurer 1998, IEEE Trans Med Imaging 17:694–702, MEM; the
//! plane form DERIVED: a similarity is linear in scale·cos, scale·sin and shift).

use kurbo::Point;

use super::similarity::{Scale, centroid};

/// Root mean square error, both coordinates together, of a `target` mapped by
/// a similarity found from `marks`, in their unit. `sd` is the standard
/// deviation per coordinate of one mark against its partner: √2 times a click
/// where both are clicked alike.
pub fn target_error_rms(marks: &[Point], target: Point, sd: f64, scale: Scale) -> f64 {
    let mean = centroid(marks);
    let spread: f64 = marks.iter().map(|m| (*m - mean).hypot2()).sum();
    let turning = match scale {
        Scale::Free => 2.0,
        Scale::Fixed(_) => 1.0,
    };
    let away = (target - mean).hypot2();
    sd * (2.0 / marks.len() as f64 + turning * away / spread).sqrt()
}

/// Root mean square residual per mark, both coordinates together, that such
/// marks leave on average.
pub fn expected_residual_rms(mark_count: usize, sd: f64, scale: Scale) -> f64 {
    let n = mark_count as f64;
    let left = 2.0 * n - scale.parameter_count() as f64;
    sd * (left.max(0.0) / n).sqrt()
}
