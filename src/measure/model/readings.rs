//! Which points the bends of a followed canal are fitted to: the film's own
//! readings where it shows the line, points of the trace where it does not, and
//! the ends of the trace.
//!
//! Neighbouring readings err alike, so they are no independent points. Those of
//! one stretch, as long as the way over which they do, are taken together: their
//! mean place across the trace has their own noise averaged and what they have in
//! common whole.

use kurbo::{Point, Vec2};

use crate::calibration::DetectorFrame;
use crate::case::{Canal, Followed};
use crate::geometry::{DrawnCurve, right_of, unit};
use crate::measure::inputs::{PlaceIndex, ScalarIndex};
use crate::measure::settings::ReadFollowed;

/// Fewer stretches than this are no line.
const FEWEST_STRETCHES: usize = 4;
/// A reading farther from the trace than so many standard deviations of a click
/// is none of it.
const FARTHEST_CLICKS: f64 = 6.0;

/// Points of the trace count where no stretch lies within so many stretches.
const GAP: f64 = 2.5;
/// An instrument goes on to the end of the trace where its last stretch lies
/// within so many of it (0.6 mm): what a path beyond a tip makes of a faint canal
/// would else be bends that are none (docs/accuracy.md, Angles from the film).
const TO_THE_END: f64 = 1.3;

/// A point that bends are fitted to.
#[derive(Clone, Copy, Debug)]
pub enum BendPoint {
    /// A point of the trace.
    Click(PlaceIndex),
    /// A stretch that was read: its place, detector frame, the unit direction
    /// across the line and the error along that.
    Reading {
        at: Point,
        across: Vec2,
        error: ScalarIndex,
    },
}

/// Where a point of the fit comes from.
#[derive(Clone, Copy, Debug)]
pub enum Source {
    /// Index in the trace.
    Click(usize),
    Stretch(ReadStretch),
}

/// Readings of one stretch taken together, detector frame.
#[derive(Clone, Copy, Debug)]
pub struct ReadStretch {
    station: f64,
    pub at: Point,
    /// Unit direction across the line.
    pub across: Vec2,
    /// Standard uncertainty along it, detector units.
    pub u: f64,
}

/// The points of the fit in order along a canal that was followed, of the readings
/// that are to count; `None` where its trace has to do. `click` is the standard
/// deviation of a click on it, detector units.
pub fn fit_points(
    canal: &Canal,
    frame: DetectorFrame,
    click: f64,
    which: ReadFollowed,
) -> Option<Vec<Source>> {
    let followed = canal.followed.as_ref()?;
    if which == ReadFollowed::Nothing {
        return None;
    }
    let instrument_alone = which == ReadFollowed::Instrument;
    let trace = canal.trace_px.iter();
    let trace: Vec<Point> = trace.map(|p| frame.detector_from_film(*p)).collect();
    let curve = DrawnCurve::through(&trace).ok()?;
    let over = followed.common_over_px * frame.mean_pitch();
    let farthest = FARTHEST_CLICKS * click;
    let stretches = stretches(followed, frame, &curve, farthest, instrument_alone);
    if stretches.len() < FEWEST_STRETCHES {
        return None;
    }
    let to_the_end = |s: &ReadStretch| curve.length() - s.station <= TO_THE_END * over;
    if instrument_alone && !stretches.last().is_some_and(to_the_end) {
        return None;
    }
    let is_read = |station: f64| {
        let near = |stretch: &ReadStretch| (stretch.station - station).abs() <= GAP * over;
        stretches.iter().any(near)
    };
    let last = trace.len() - 1;
    let clicks = trace.iter().enumerate().filter_map(|(index, point)| {
        let station = match index {
            0 => f64::NEG_INFINITY,
            _ if index == last => f64::INFINITY,
            _ => curve.project(*point).length_at,
        };
        (!is_read(station)).then_some((station, Source::Click(index)))
    });
    let read = stretches.iter().map(|s| (s.station, Source::Stretch(*s)));
    let mut all: Vec<(f64, Source)> = clicks.chain(read).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    Some(all.into_iter().map(|(_, source)| source).collect())
}

/// Sums over the readings of one stretch.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    station: f64,
    offset: f64,
    /// Of the variances of their own, and of those in common.
    own: f64,
    common: f64,
}

/// The readings within `farthest` of the trace, of all or of those on an
/// instrument, taken together stretch by stretch.
fn stretches(
    followed: &Followed,
    frame: DetectorFrame,
    curve: &DrawnCurve,
    farthest: f64,
    instrument_alone: bool,
) -> Vec<ReadStretch> {
    let (length, pitch) = (curve.length(), frame.mean_pitch());
    let count = (length / (followed.common_over_px * pitch))
        .round()
        .max(1.0);
    let mut sums = vec![Sums::default(); count as usize];
    let uncertainties = followed.u_px.iter().zip(&followed.common_u_px);
    for (index, (&point, (u_px, common_px))) in
        followed.points_px.iter().zip(uncertainties).enumerate()
    {
        if instrument_alone && followed.on_instrument.get(index) != Some(&true) {
            continue;
        }
        let at = frame.detector_from_film(point);
        let foot = curve.project(at);
        let beside = foot.length_at > 0.0 && foot.length_at < length;
        if !beside || foot.distance() > farthest {
            continue;
        }
        let across = right_of(unit(curve.tangent_at_length(foot.length_at)));
        let offset = (at - curve.point_at_length(foot.length_at)).dot(across);
        let stretch = (foot.length_at / length * count) as usize;
        if let Some(sums) = sums.get_mut(stretch) {
            sums.count += 1.0;
            sums.station += foot.length_at;
            sums.offset += offset;
            sums.own += (u_px * pitch).powi(2);
            sums.common += (common_px * pitch).powi(2);
        }
    }
    let taken = sums.iter().filter(|sums| sums.count > 0.0);
    let together = taken.map(|sums| {
        let station = sums.station / sums.count;
        let across = right_of(unit(curve.tangent_at_length(station)));
        ReadStretch {
            station,
            at: curve.point_at_length(station) + across * (sums.offset / sums.count),
            across,
            u: ((sums.own / sums.count + sums.common) / sums.count).sqrt(),
        }
    });
    together.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::FilmPoint;

    /// A straight canal with a reading every 10 px where `is_read` holds, 1 px
    /// beside it, each with 0.6 px of its own and 0.8 px in common over 40 px.
    fn followed(is_read: impl Fn(f64) -> bool) -> Canal {
        let at = |x: f64, y: f64| FilmPoint::new(x, y);
        let read: Vec<f64> = (0..50).map(|k| 5.0 + 10.0 * f64::from(k)).collect();
        let points_px: Vec<FilmPoint> = read
            .into_iter()
            .filter(|y| is_read(*y))
            .map(|y| at(51.0, y))
            .collect();
        let count = points_px.len();
        Canal {
            trace_px: (0..=5).map(|k| at(50.0, 100.0 * f64::from(k))).collect(),
            followed: Some(Followed {
                points_px,
                u_px: vec![0.6; count],
                common_u_px: vec![0.8; count],
                common_over_px: 41.7,
                ..Followed::default()
            }),
            ..Canal::default()
        }
    }

    fn sources(canal: &Canal, which: ReadFollowed) -> Option<(Vec<usize>, Vec<ReadStretch>)> {
        let found = fit_points(canal, DetectorFrame::without_pitch(), 2.0, which)?;
        let (mut clicks, mut stretches) = (Vec::new(), Vec::new());
        for source in found {
            match source {
                Source::Click(index) => clicks.push(index),
                Source::Stretch(stretch) => stretches.push(stretch),
            }
        }
        Some((clicks, stretches))
    }

    /// Closed form: of a stretch of n readings the own part falls with √n, the
    /// common part stays.
    #[test]
    fn readings_of_a_stretch_count_once() {
        let (clicks, stretches) =
            sources(&followed(|_| true), ReadFollowed::Everything).expect("a line");
        assert_eq!(clicks, [0, 5], "the ends alone");
        assert_eq!(stretches.len(), 12);
        for stretch in stretches {
            assert!((stretch.at.x - 51.0).abs() < 1e-9);
            let own = (stretch.u.powi(2) - 0.64) / 0.36;
            assert!([4.0, 5.0].iter().any(|n| (own * n - 1.0).abs() < 1e-9));
        }
    }

    /// Points of the trace stand in where nothing was read; a few readings are
    /// no line.
    #[test]
    fn the_trace_counts_where_nothing_was_read() {
        let (clicks, _) =
            sources(&followed(|y| y < 250.0), ReadFollowed::Everything).expect("a line");
        assert_eq!(clicks, [0, 4, 5]);
        assert!(sources(&followed(|y| y < 100.0), ReadFollowed::Everything).is_none());
    }

    /// Of a canal with an instrument the readings on it alone count, and only
    /// where it goes on to the end of the trace.
    #[test]
    fn an_instrument_counts_where_it_goes_on_to_the_end() {
        let with_instrument = |upto: f64| {
            let mut canal = followed(|_| true);
            if let Some(followed) = &mut canal.followed {
                let places = followed.points_px.iter();
                followed.on_instrument = places.map(|p| p.y < upto).collect();
            }
            sources(&canal, ReadFollowed::Instrument)
        };
        let (clicks, stretches) = with_instrument(500.0).expect("to the end");
        assert_eq!((clicks, stretches.len()), (vec![0, 5], 12));
        let (clicks, stretches) = with_instrument(480.0).expect("to near the end");
        assert_eq!((clicks, stretches.len()), (vec![0, 5], 12));
        assert!(with_instrument(460.0).is_none());
        assert!(sources(&followed(|_| true), ReadFollowed::Instrument).is_none());
        assert!(sources(&followed(|_| true), ReadFollowed::Nothing).is_none());
    }
}
