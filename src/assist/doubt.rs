//! How surely a place is right, from what the film reader says of it.
//!
//! Confidences are logistic regressions on phantom films of the tuning set, two
//! thirds of them made strange (`tests/programs/reader_doubt.rs`). What films of
//! people look like no such fit knows, so every confidence is lowered by how
//! unlike the film is ([`FilmReading::likeness`]), and no place is more than
//! half sure that the film's copies put farther apart than a right one may lie
//! from the truth.

use super::reader::{FilmReading, Peak, Sign};
use crate::units::FilmPoint;

/// A right apex, tip or stop lies this near to the truth, mm.
const RIGHT_APEX_MM: f64 = 0.5;
const RIGHT_TIP_MM: f64 = 0.15;
const RIGHT_STOP_MM: f64 = 0.2;
/// A scattered place is at most this sure.
const MOST_SCATTERED: f64 = 0.5;
/// Files are told by steel, which looks alike on all films: an unlike film
/// lowers their confidence by half at most.
const LEAST_FILE_LIKENESS: f64 = 0.5;
/// A second place this near competes for the same root's end, mm: a root's
/// width.
const RIVAL_MM: f64 = 3.0;
/// Rivals count no more than this.
const MOST_RIVAL: f64 = 1.5;

/// Films less alike than this are said to be unlike.
pub(super) const SAID_UNLIKE: f64 = 0.9;

/// The logistic of `slope` times the logit of `stated`, plus `shift`.
pub(super) fn calibrated(stated: f64, slope: f64, shift: f64) -> f64 {
    let stated = stated.clamp(1e-3, 1.0 - 1e-3);
    let logit = (stated / (1.0 - stated)).ln();
    1.0 / (1.0 + (-(slope * logit + shift)).exp())
}

/// Root mean square distance of the copies' peaks from a place, mm.
pub(super) fn spread_mm(
    reading: &FilmReading,
    sign: Sign,
    place: FilmPoint,
    px_per_mm: f64,
) -> f64 {
    let copies = reading.copies_at(sign, place);
    let squares = copies
        .iter()
        .map(|copy| copy.place.distance_px(place).powi(2));
    (squares.sum::<f64>() / copies.len().max(1) as f64).sqrt() / px_per_mm
}

fn at_most_half(confidence: f64, scattered: bool) -> f64 {
    if scattered {
        confidence.min(MOST_SCATTERED)
    } else {
        confidence
    }
}

/// Share of such places where a root ends within 0.5 mm, on a film like this.
/// `all`: the film's places, this one among them.
pub(super) fn apex_confidence(
    reading: &FilmReading,
    apex: &Peak,
    all: &[Peak],
    px_per_mm: f64,
) -> f64 {
    let near = |other: &&Peak| {
        let way = other.place.distance_px(apex.place);
        way > 0.0 && way < RIVAL_MM * px_per_mm
    };
    let rival = all.iter().filter(near).map(|p| p.value).fold(0.0, f32::max);
    let rival = f64::from(rival / apex.value.max(1e-6)).min(MOST_RIVAL);
    let fitted = calibrated(f64::from(apex.value), 2.10, 2.14 - 0.71 * rival);
    let scattered = spread_mm(reading, Sign::Apex, apex.place, px_per_mm) > RIGHT_APEX_MM;
    at_most_half(fitted * reading.likeness, scattered)
}

/// What the film says of the ends of a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FileDoubt {
    likeness: f64,
    tip_scattered: bool,
    stop_scattered: bool,
}

impl FileDoubt {
    pub fn of(
        reading: &FilmReading,
        tip: FilmPoint,
        stop: Option<FilmPoint>,
        px_per_mm: f64,
    ) -> Self {
        let spread = |sign, place| spread_mm(reading, sign, place, px_per_mm);
        Self {
            likeness: reading.likeness.max(LEAST_FILE_LIKENESS),
            tip_scattered: spread(Sign::Tip, tip) > RIGHT_TIP_MM,
            stop_scattered: stop.is_some_and(|stop| spread(Sign::Stop, stop) > RIGHT_STOP_MM),
        }
    }

    /// Share of such tips that lie within 0.15 mm; `rival`: value of the second
    /// best over that of the best.
    pub fn tip_confidence(&self, value: f64, rival: f64) -> f64 {
        let fitted = calibrated(value, 1.20, 1.66 - 2.99 * rival);
        at_most_half(fitted * self.likeness, self.tip_scattered)
    }

    /// Share of such stops that lie within 0.2 mm.
    pub fn stop_confidence(&self, value: f64, rival: f64) -> f64 {
        let fitted = calibrated(value, 2.44, 1.77 - 2.64 * rival);
        at_most_half(fitted * self.likeness, self.stop_scattered)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unlike_film_and_scattered_copies_leave_no_end_more_than_half_sure() {
        let alike = FileDoubt {
            likeness: 1.0,
            tip_scattered: false,
            stop_scattered: false,
        };
        assert!(alike.tip_confidence(0.9, 0.0) > 0.9);
        assert!(alike.stop_confidence(0.9, 0.0) > 0.95);
        let unlike = FileDoubt {
            likeness: 0.5,
            ..alike
        };
        assert!(unlike.tip_confidence(0.99, 0.0) <= 0.5);
        assert!(unlike.stop_confidence(0.99, 0.0) <= 0.5);
        let scattered = FileDoubt {
            tip_scattered: true,
            stop_scattered: true,
            ..alike
        };
        assert_eq!(scattered.tip_confidence(0.99, 0.0), 0.5);
        assert_eq!(scattered.stop_confidence(0.99, 0.0), 0.5);
    }
}
