//! How far one trace lies from another: mean and 95th percentile along the
//! path, Hausdorff and Fréchet distance, and where along the canal it strays.

use kurbo::Point;

use super::{
    frechet::frechet_distance,
    path::{MeasuredPath, Nearest},
};
use crate::statistics::quantile;

/// Stations per path at which mean and percentile are taken.
pub const STATIONS: usize = 200;

/// The Hausdorff distance is exact to this, in the unit of the paths.
pub const HAUSDORFF_TOLERANCE: f64 = 1e-6;

/// Distances between a trace and a reference, in the unit of the paths.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct TraceDistances {
    /// Mean of the two directed means: trace → reference and back, each along
    /// its own arc length.
    pub mean: f64,
    /// Mean distance of the trace's points to the reference.
    pub mean_to_reference: f64,
    /// Mean distance of the reference's points to the trace.
    pub mean_from_reference: f64,
    /// The larger of the two directed 95th percentiles.
    pub percentile_95: f64,
    /// The farthest any point of either lies from the other.
    pub hausdorff: f64,
    /// Continuous Fréchet distance: like Hausdorff, but both are walked from
    /// start to end, so that a trace that doubles back is found out.
    pub frechet: f64,
}

/// All distances between a trace and a reference that run the same way.
///
/// Means and percentiles are taken at [`STATIONS`] equal steps of arc length
/// (midpoints), each exactly to the other polyline; Hausdorff is exact to
/// [`HAUSDORFF_TOLERANCE`], Fréchet as [`frechet_distance`] says.
pub fn trace_distances(reference: &MeasuredPath, trace: &MeasuredPath) -> TraceDistances {
    let mut to_reference = directed_distances(trace, reference, STATIONS);
    let mut from_reference = directed_distances(reference, trace, STATIONS);
    let mean = |distances: &[f64]| distances.iter().sum::<f64>() / distances.len() as f64;
    let (mean_to, mean_from) = (mean(&to_reference), mean(&from_reference));
    // Station i of n stands for the share (i + ½)/n of the length.
    let share = (0.95 * STATIONS as f64 - 0.5) / (STATIONS - 1) as f64;
    // Distances of finite paths are never NaN.
    let percentile = |distances: &mut [f64]| quantile(distances, share).unwrap_or(f64::NAN);
    let hausdorff = hausdorff_distance(reference, trace);
    TraceDistances {
        mean: (mean_to + mean_from) / 2.0,
        mean_to_reference: mean_to,
        mean_from_reference: mean_from,
        percentile_95: percentile(&mut to_reference).max(percentile(&mut from_reference)),
        hausdorff,
        frechet: frechet_distance(reference, trace, hausdorff),
    }
}

/// The trace seems to run from apex to orifice where the reference runs from
/// orifice to apex: its ends lie nearer to the reference's when swapped.
pub fn runs_backwards(reference: &MeasuredPath, trace: &MeasuredPath) -> bool {
    let apart = |start: Point, end: Point| {
        reference.start().distance(start) + reference.end().distance(end)
    };
    apart(trace.end(), trace.start()) < apart(trace.start(), trace.end())
}

/// Distances from `count` places of `from` (midpoints of equal steps of arc
/// length) to the nearest place of `to`.
pub fn directed_distances(from: &MeasuredPath, to: &MeasuredPath, count: usize) -> Vec<f64> {
    let step = from.length() / count as f64;
    let stations = from.stations();
    let (mut segment, mut guess) = (0, 0);
    (0..count)
        .map(|i| {
            let station = (i as f64 + 0.5) * step;
            while segment + 1 < from.segment_count() && stations[segment + 1] < station {
                segment += 1;
            }
            let place =
                from.points()[segment] + from.direction(segment) * (station - stations[segment]);
            let nearest = to.nearest(place, guess);
            guess = nearest.segment;
            nearest.distance
        })
        .collect()
}

/// Symmetric Hausdorff distance of two polylines.
pub fn hausdorff_distance(a: &MeasuredPath, b: &MeasuredPath) -> f64 {
    let forth = directed_hausdorff(a, b, 0.0);
    directed_hausdorff(b, a, forth)
}

/// The larger of `at_least` and the farthest a point of `from` lies from
/// `to`.
///
/// Along a straight piece the distance to one segment is convex, so a piece
/// cannot stray farther than its ends do from the better of the two segments
/// nearest to them; pieces whose bound does not settle the question are
/// halved.
fn directed_hausdorff(from: &MeasuredPath, to: &MeasuredPath, at_least: f64) -> f64 {
    let mut farthest = at_least;
    let mut guess = 0;
    let corners: Vec<Nearest> = from
        .points()
        .iter()
        .map(|&p| {
            let nearest = to.nearest(p, guess);
            guess = nearest.segment;
            farthest = farthest.max(nearest.distance);
            nearest
        })
        .collect();
    let mut pending = Vec::new();
    for (segment, ends) in corners.windows(2).enumerate() {
        let points = &from.points()[segment..segment + 2];
        pending.push(((points[0], ends[0]), (points[1], ends[1])));
        while let Some((start, end)) = pending.pop() {
            let to_segment = |segment: usize, p| to.segment_distance_squared(segment, p).0.sqrt();
            let bound_start = start.1.distance.max(to_segment(start.1.segment, end.0));
            let bound_end = end.1.distance.max(to_segment(end.1.segment, start.0));
            // Distance changes no faster than the place moves.
            let length = start.0.distance(end.0);
            let bound_length = (start.1.distance + end.1.distance + length) / 2.0;
            let bound = bound_start.min(bound_end).min(bound_length);
            if bound <= farthest + HAUSDORFF_TOLERANCE {
                continue;
            }
            let middle = start.0.midpoint(end.0);
            let nearest = to.nearest(middle, start.1.segment);
            farthest = farthest.max(nearest.distance);
            pending.push((start, (middle, nearest)));
            pending.push(((middle, nearest), end));
        }
    }
    farthest
}

/// How a trace lies beside one place of the reference.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Deviation {
    /// Place on the reference along it from its end (the apex).
    pub from_end: f64,
    /// Distance from there to the trace; positive where the trace lies
    /// clockwise of the reference's direction as seen on the film (y down),
    /// that is on the right hand of one who walks towards the apex.
    pub offset: f64,
    /// The nearest place of the trace is one of its ends and does not lie
    /// abreast: the trace is shorter there, it does not stray sideways.
    pub past_end: bool,
}

/// An end of the trace whose direction from a place of the reference has more
/// than this share along the reference does not lie abreast of it.
const ABREAST_SHARE: f64 = 0.05;

/// Offsets of the trace at `count` ≥ 2 equal steps of the reference, both
/// ends included, orifice first.
pub fn deviations(reference: &MeasuredPath, trace: &MeasuredPath, count: usize) -> Vec<Deviation> {
    let steps = count.max(2) - 1;
    let mut guess = 0;
    let mut segment = 0;
    reference
        .resampled(count)
        .into_iter()
        .enumerate()
        .map(|(i, place)| {
            let station = reference.length() * i as f64 / steps as f64;
            while segment + 1 < reference.segment_count()
                && reference.stations()[segment + 1] < station
            {
                segment += 1;
            }
            let nearest = trace.nearest(place, guess);
            guess = nearest.segment;
            let aside = trace.point_at(nearest.station) - place;
            let along = reference.direction(segment);
            let is_end = nearest.station <= 0.0 || nearest.station >= trace.length();
            let ahead = along.dot(aside).abs();
            Deviation {
                from_end: reference.length() - station,
                offset: nearest.distance.copysign(along.cross(aside)),
                past_end: is_end && ahead > ABREAST_SHARE * nearest.distance,
            }
        })
        .collect()
}
