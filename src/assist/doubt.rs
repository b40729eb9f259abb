//! How surely a place is right, from what the film reader says of it.
//!
//! Confidences are logistic regressions on phantom films of the tuning set, two
//! thirds of them made strange (`tests/programs/reader_doubt.rs`). What films of
//! people look like no such fit knows, so those of root ends and tips are
//! lowered by how unlike the film is ([`FilmReading::likeness`]), and no root's
//! end or stop is more than half sure that the film's copies put farther apart
//! than a right one may lie from the truth.

use super::reader::{FilmReading, Peak, Sign};
use crate::units::FilmPoint;

/// A right apex or stop lies this near to the truth, mm.
const RIGHT_APEX_MM: f64 = 0.5;
const RIGHT_STOP_MM: f64 = 0.2;
/// A scattered place is at most this sure.
const MOST_SCATTERED: f64 = 0.5;
/// A second place this near competes for the same root's end, mm: a root's
/// width.
const RIVAL_MM: f64 = 3.0;
/// Rivals count no more than this.
const MOST_RIVAL: f64 = 1.5;

/// The logistic regressions of tips and of stops: weights of what is said of a
/// place (`tests/scripts/fit_doubt.py`).
const TIP_SHIFT: f64 = -2.92;
const TIP_ALONG: f64 = 0.79;
const TIP_VALUE: f64 = 0.13;
const TIP_RIVAL: f64 = 0.47;
const TIP_COURSE: f64 = 0.35;
const TIP_LIKENESS: f64 = 0.63;
const TIP_PRESS: f64 = 1.55;
const STOP_SHIFT: f64 = 1.35;
const STOP_ALONG: f64 = 0.10;
const STOP_VALUE: f64 = 0.70;
const STOP_RIVAL: f64 = 1.69;
const STOP_COURSE: f64 = 0.69;
/// Rivals of stops count no more than this.
const MOST_STOP_RIVAL: f64 = 3.0;
/// A stop is at most half sure, as a wrong one is a wrong scale, unless both what
/// the strip along the file sees of it and what stands beside the file where its
/// body would be ([`Strip::stop_body`], over the file's own opacity) reach one of
/// these pairs. Beside a file that runs on in air nothing stands. On tuning films
/// as drawn 5 of 844 right stops reach neither pair by their body.
///
/// [`Strip::stop_body`]: super::strip::Strip::stop_body
const LEAST_SEEN_AND_BODY: [(f64, f64); 2] = [(0.5, 0.02), (0.02, 0.1)];
/// The filters are trained to be surer than they are of films that they have
/// not seen: less doubt than this is none.
const LEAST_ALONG: f64 = 0.005;
const LEAST_COURSE: f64 = 0.02;

/// Films less alike than this are said to be unlike.
pub(super) const SAID_UNLIKE: f64 = 0.9;

fn logit(p: f64) -> f64 {
    let p = p.clamp(1e-3, 1.0 - 1e-3);
    (p / (1.0 - p)).ln()
}

/// The same, where less than `least` of doubt says nothing more.
fn logit_within(p: f64, least: f64) -> f64 {
    logit(p.clamp(least, 1.0 - least))
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// The logistic of `slope` times the logit of `stated`, plus `shift`.
pub(super) fn calibrated(stated: f64, slope: f64, shift: f64) -> f64 {
    logistic(slope * logit(stated) + shift)
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

/// What the film says of a file besides its own line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FileDoubt {
    likeness: f64,
    stop_scattered: bool,
}

/// What is said of one end of a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndEvidence {
    /// Share of the strip along the file that lies about this place.
    pub along: f64,
    /// Value of the film reader's peak.
    pub value: f64,
    /// Score of the reader's best other place over that of this one.
    pub rival: f64,
    /// How surely the file that is meant runs along the line to this end.
    pub course: f64,
    /// How far from the line the press lies, mm.
    pub press_mm: f64,
    /// Of a stop: how much stands beside the file where its body would be, over
    /// the file's own opacity.
    pub body: f64,
}

impl FileDoubt {
    pub fn of(reading: &FilmReading, stop: Option<FilmPoint>, px_per_mm: f64) -> Self {
        let spread = |place| spread_mm(reading, Sign::Stop, place, px_per_mm);
        Self {
            likeness: reading.likeness,
            stop_scattered: stop.is_some_and(|stop| spread(stop) > RIGHT_STOP_MM),
        }
    }

    /// Share of such tips that lie within 0.15 mm.
    pub fn tip_confidence(&self, tip: &EndEvidence) -> f64 {
        let along = logit_within(tip.along, LEAST_ALONG);
        let reader = TIP_VALUE * logit(tip.value) - TIP_RIVAL * tip.rival.min(MOST_RIVAL);
        let meant = TIP_COURSE * logit_within(tip.course, LEAST_COURSE) - TIP_PRESS * tip.press_mm;
        logistic(TIP_ALONG * along + reader + meant + TIP_LIKENESS * self.likeness + TIP_SHIFT)
    }

    /// Share of such stops that lie within 0.2 mm. How unlike the film is does
    /// not count: the strip along the file says more (docs/assist.md).
    pub fn stop_confidence(&self, stop: &EndEvidence) -> f64 {
        let reader = STOP_VALUE * logit(stop.value) - STOP_RIVAL * stop.rival.min(MOST_STOP_RIVAL);
        let meant = STOP_COURSE * logit_within(stop.course, LEAST_COURSE);
        let fitted = logistic(STOP_ALONG * logit(stop.along) + reader + meant + STOP_SHIFT);
        let reached = |(seen, body): (f64, f64)| stop.along >= seen && stop.body >= body;
        let shows = LEAST_SEEN_AND_BODY.into_iter().any(reached);
        at_most_half(fitted, self.stop_scattered || !shows)
    }
}

/// The confidence of a stop beside another that is `rival` sure: a file has one
/// stop.
pub(super) fn unrivalled(confidence: f64, rival: f64) -> f64 {
    at_most_half(confidence, rival >= MOST_SCATTERED)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_doubted_lowers_the_confidence_of_an_end() {
        let clear = EndEvidence {
            along: 0.999,
            value: 0.6,
            rival: 0.0,
            course: 0.99,
            press_mm: 0.1,
            body: 0.2,
        };
        let alike = FileDoubt {
            likeness: 1.0,
            stop_scattered: false,
        };
        assert!(alike.tip_confidence(&clear) > 0.9);
        assert!(alike.stop_confidence(&clear) > 0.95);
        // Two files whose stops fit as well, on another's line.
        let two = EndEvidence {
            rival: 0.8,
            course: 0.05,
            ..clear
        };
        let of_clear = alike.tip_confidence(&clear);
        assert!(alike.tip_confidence(&two) < 0.7 * of_clear);
        assert!(alike.stop_confidence(&two) < 0.8);
        assert_eq!(unrivalled(0.97, 0.6), 0.5);
        // The strip sees no end there.
        let blank = EndEvidence {
            along: 0.05,
            ..clear
        };
        assert!(alike.tip_confidence(&blank) < 0.7);
        let unseen = EndEvidence {
            along: 0.01,
            ..clear
        };
        assert_eq!(alike.stop_confidence(&unseen), 0.5);
        // The file runs on in air.
        let bare = EndEvidence { body: 0.0, ..clear };
        assert_eq!(alike.stop_confidence(&bare), 0.5);
        assert_eq!(alike.tip_confidence(&bare), of_clear);
        // A body stands there that the strip makes little of; or hardly one.
        let body = |body| EndEvidence { body, ..blank };
        assert!(alike.stop_confidence(&body(0.2)) > 0.9);
        assert_eq!(alike.stop_confidence(&body(0.05)), 0.5);
        let scattered = FileDoubt {
            stop_scattered: true,
            ..alike
        };
        assert_eq!(scattered.stop_confidence(&clear), 0.5);
        let unlike = FileDoubt {
            likeness: 0.2,
            ..alike
        };
        assert!(unlike.tip_confidence(&clear) < alike.tip_confidence(&clear));
    }
}
