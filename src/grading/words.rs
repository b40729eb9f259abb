//! Where along the canal a trace went wrong, in words.

use kurbo::{Point, Vec2};

use super::distances::Deviation;
use super::path::MeasuredPath;
use crate::case::RightOfFilm;

/// What the sentences are told by.
#[derive(Clone, Copy, Debug)]
pub struct Wording {
    /// Less than this is not told, unit of the path.
    pub limit: f64,
    /// `mm` or `px`, that of the path and the limit.
    pub unit: &'static str,
    /// What lies to the right on the film, where it is known.
    pub right_is: Option<RightOfFilm>,
}

/// Where a trace strays: first its ends, then one sentence per stretch where
/// it lies beside the reference, orifice first. `apex` is the reference's.
pub fn stray_sentences(
    reference: &MeasuredPath,
    apex: Point,
    trace: &MeasuredPath,
    deviations: &[Deviation],
    wording: Wording,
) -> Vec<String> {
    let mut sentences: Vec<String> = end_sentences(reference, apex, trace, wording).collect();
    sentences.extend(side_sentences(reference, deviations, wording));
    sentences
}

/// One sentence per stretch where the trace lies beside the reference by more
/// than the limit, orifice first.
pub fn side_sentences(
    reference: &MeasuredPath,
    deviations: &[Deviation],
    wording: Wording,
) -> Vec<String> {
    stray_stretches(deviations, wording.limit)
        .map(|stretch| sentence(reference, stretch, wording))
        .collect()
}

/// How far the trace ends beyond the apex along the canal, negative short of
/// it, and how far it begins after the reference's start, negative before it;
/// in the unit of the path.
pub fn end_offsets(reference: &MeasuredPath, apex: Point, trace: &MeasuredPath) -> [f64; 2] {
    let station = |place: Point| station_prolonged(reference, place);
    [station(trace.end()) - station(apex), station(trace.start())]
}

/// Where a place stands along the path, prolonged straight beyond its ends.
fn station_prolonged(path: &MeasuredPath, place: Point) -> f64 {
    let nearest = path.nearest(place, 0);
    let last = path.segment_count() - 1;
    if nearest.station >= path.length() {
        path.length() + (place - path.end()).dot(path.direction(last)).max(0.0)
    } else if nearest.station <= 0.0 {
        (place - path.start()).dot(path.direction(0)).min(0.0)
    } else {
        nearest.station
    }
}

fn end_sentences(
    reference: &MeasuredPath,
    apex: Point,
    trace: &MeasuredPath,
    Wording { limit, unit, .. }: Wording,
) -> impl Iterator<Item = String> {
    let [beyond, after] = end_offsets(reference, apex, trace);
    let end = (beyond.abs() > limit).then(|| {
        let place = if beyond > 0.0 { "beyond" } else { "short of" };
        format!("the trace ends {:.1} {unit} {place} the apex", beyond.abs())
    });
    let start = (after.abs() > limit).then(|| {
        let side = if after > 0.0 { "apical" } else { "coronal" };
        let by = after.abs();
        format!("the trace begins {by:.1} {unit} {side} to the start of the reference")
    });
    end.into_iter().chain(start)
}

/// Runs of places where the trace lies farther than `limit` on one side,
/// orifice first. Places past an end of the trace belong to none.
pub fn stray_stretches(deviations: &[Deviation], limit: f64) -> impl Iterator<Item = &[Deviation]> {
    let strays = move |d: &Deviation| d.offset.abs() > limit && !d.past_end;
    deviations
        .chunk_by(move |a, b| {
            strays(a) == strays(b) && (!strays(a) || (a.offset > 0.0) == (b.offset > 0.0))
        })
        .filter(move |stretch| strays(&stretch[0]))
}

fn sentence(reference: &MeasuredPath, stretch: &[Deviation], wording: Wording) -> String {
    let Wording { unit, right_is, .. } = wording;
    let worst = stretch.iter().fold(stretch[0], |worst, d| {
        if d.offset.abs() > worst.offset.abs() {
            *d
        } else {
            worst
        }
    });
    let (far, near) = (stretch[0].from_end, stretch[stretch.len() - 1].from_end);
    let side = side_words(reference, worst, right_is);
    let most = worst.offset.abs();
    if stretch.len() == 1 {
        format!("at {far:.1} {unit} from the apex the trace lies {most:.1} {unit} {side}")
    } else {
        format!(
            "between {near:.1} and {far:.1} {unit} from the apex the trace lies up to {most:.1} {unit} {side}"
        )
    }
}

/// The side a deviation points to most.
fn side_words(
    reference: &MeasuredPath,
    deviation: Deviation,
    right_is: Option<RightOfFilm>,
) -> &'static str {
    let station = reference.length() - deviation.from_end;
    let after = reference.stations().partition_point(|&s| s < station);
    let direction = reference.direction(after.clamp(1, reference.segment_count()) - 1);
    let aside = Vec2::new(-direction.y, direction.x) * deviation.offset;
    let is_right = aside.x > 0.0;
    if aside.x.abs() < aside.y.abs() {
        return match aside.y > 0.0 {
            true => "too low on the film",
            false => "too high on the film",
        };
    }
    match (right_is, is_right) {
        (None, true) => "to the right on the film",
        (None, false) => "to the left on the film",
        (Some(RightOfFilm::Mesial), true) | (Some(RightOfFilm::Distal), false) => "to the mesial",
        (Some(RightOfFilm::Distal), true) | (Some(RightOfFilm::Mesial), false) => "to the distal",
    }
}
