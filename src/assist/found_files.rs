//! The files of a film, put together from what the reader says of lines, tips
//! and stops.

use super::AssistError;
use super::polyline::{arc_lengths_px, resampled, smoothed};
use super::reader::{FilmReading, Peak, Sign, Ways};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A file.
#[derive(Clone, Debug)]
pub(super) struct FoundFile {
    /// Coronal end → tip, steps of [`STEP_MM`].
    pub line: Vec<FilmPoint>,
    /// How surely the tip lies where the line ends, 0..=1.
    pub confidence: f64,
    /// The line starts at the tooth-side face of a stop.
    pub has_stop: bool,
    /// How surely, 0..=1; of the best candidate where no stop is claimed.
    pub stop_confidence: f64,
}

/// Step along the line, mm.
const STEP_MM: f64 = 0.1;
/// The line is smoothed by this σ, mm: cells of 0.1 mm have steps, a file has
/// none, and bends over several mm.
const SMOOTH_MM: f64 = 0.5;
/// Tips less likely than this are not tried: what they lead to is never used.
const LEAST_TIP: f32 = 0.06;
/// The same for stops.
const LEAST_STOP: f32 = 0.05;
/// A stop is claimed from this confidence on: a wrong one is a wrong scale.
const CLAIM_STOP: f64 = 0.5;
/// From stop to tip no file shows less, mm: shorter than any set length.
const LEAST_LENGTH_MM: f64 = 8.0;
/// Without a stop a file shows at least this length, mm.
const LEAST_PART_MM: f64 = 4.0;
/// The longest file (31 mm) as cells, and gaps behind metal on the way.
const LIMIT: f32 = 1400.0;
/// Mean cost a cell of a way that is a file's on most of its length.
const PER_CELL: f32 = 2.6;
/// Files in one film, at most.
const MOST_FILES: usize = 8;

/// Mean of the file map along a line.
fn mean_along(reading: &FilmReading, line: &[FilmPoint]) -> f64 {
    line.iter().map(|p| reading.at(Sign::File, *p)).sum::<f64>() / line.len().max(1) as f64
}

/// Sum of the turns (radians) of a smooth line, taken over 2 mm.
fn turning(line: &[FilmPoint]) -> f64 {
    let step = (2.0 / STEP_MM) as usize;
    let nodes: Vec<FilmPoint> = line.iter().copied().step_by(step).collect();
    nodes
        .windows(3)
        .map(|w| {
            let (ax, ay) = (w[1].x - w[0].x, w[1].y - w[0].y);
            let (bx, by) = (w[2].x - w[1].x, w[2].y - w[1].y);
            (ax * by - ay * bx).atan2(ax * bx + ay * by).abs()
        })
        .sum()
}

/// The line from `from` to `tip` through the cells of `way`.
fn drawn(way: Vec<FilmPoint>, from: FilmPoint, tip: FilmPoint, px_per_mm: f64) -> Vec<FilmPoint> {
    let mut points = way;
    let inner = points.len().saturating_sub(1);
    if let Some(first) = points.first_mut() {
        *first = from;
    }
    if let Some(last) = points.get_mut(inner) {
        *last = tip;
    }
    let even = resampled(&points, STEP_MM * px_per_mm, 8);
    smoothed(&even, SMOOTH_MM / STEP_MM)
}

/// A tip with one of the stops it may belong to.
struct Pair {
    tip: usize,
    stop: usize,
    line: Vec<FilmPoint>,
    mean: f64,
    score: f64,
}

/// All files, surest first.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn find_files(
    reading: &FilmReading,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Vec<FoundFile>, AssistError> {
    let mut tips = reading.peaks(Sign::Tip, LEAST_TIP);
    tips.truncate(MOST_FILES);
    let mut stops = reading.peaks(Sign::Stop, LEAST_STOP);
    stops.truncate(MOST_FILES);
    let map = reading.map(Sign::File);
    let length_mm =
        |line: &[FilmPoint]| arc_lengths_px(line).last().copied().unwrap_or(0.0) / px_per_mm;
    let mut pairs = Vec::new();
    let mut open: Vec<Option<Vec<FilmPoint>>> = Vec::new();
    for (t, tip) in tips.iter().enumerate() {
        let ways = Ways::from(map, tip.place, LIMIT, progress)?;
        for (s, stop) in stops.iter().enumerate() {
            if ways.cost_to(stop.place).is_none() {
                continue;
            }
            let mut way = ways.line_to(stop.place);
            way.reverse();
            if way.len() < 3 {
                continue;
            }
            let line = drawn(way, stop.place, tip.place, px_per_mm);
            let mean = mean_along(reading, &line);
            if length_mm(&line) >= LEAST_LENGTH_MM && mean > 0.25 {
                let score = f64::from(tip.value) * mean * f64::from(stop.value).sqrt()
                    / (1.0 + turning(&line));
                pairs.push(Pair {
                    tip: t,
                    stop: s,
                    line,
                    mean,
                    score,
                });
            }
        }
        open.push(ways.farthest(0.35, PER_CELL, 0.0).and_then(|end| {
            let mut way = ways.line_to(end);
            way.reverse();
            (way.len() >= 3).then(|| drawn(way, end, tip.place, px_per_mm))
        }));
    }
    pairs.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut tip_used = vec![false; tips.len()];
    let mut stop_used = vec![false; stops.len()];
    let mut files = Vec::new();
    for pair in pairs {
        if tip_used[pair.tip] || stop_used[pair.stop] {
            continue;
        }
        let stop_confidence = stop_confidence(&stops[pair.stop], pair.mean);
        if stop_confidence < CLAIM_STOP {
            continue;
        }
        tip_used[pair.tip] = true;
        stop_used[pair.stop] = true;
        files.push(FoundFile {
            confidence: tip_confidence(&tips[pair.tip], pair.mean),
            line: pair.line,
            has_stop: true,
            stop_confidence,
        });
    }
    for (t, line) in open.into_iter().enumerate() {
        let Some(line) = line.filter(|l| !tip_used[t] && length_mm(l) >= LEAST_PART_MM) else {
            continue;
        };
        let mean = mean_along(reading, &line);
        let end = line[0];
        let near = stops
            .iter()
            .filter(|s| s.place.distance_px(end) < 3.0 * px_per_mm)
            .map(|s| stop_confidence(s, mean))
            .fold(0.0, f64::max);
        files.push(FoundFile {
            confidence: tip_confidence(&tips[t], mean),
            line,
            has_stop: false,
            stop_confidence: near.min(CLAIM_STOP),
        });
    }
    files.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    Ok(files)
}

/// The logistic of `slope` times the logit of `stated`, plus `shift`.
pub(super) fn calibrated(stated: f64, slope: f64, shift: f64) -> f64 {
    let stated = stated.clamp(1e-4, 1.0 - 1e-4);
    let logit = (stated / (1.0 - stated)).ln();
    1.0 / (1.0 + (-(slope * logit + shift)).exp())
}

/// Share of such tips that lie within 0.15 mm: fitted to 133 tips on 160
/// tuning films.
fn tip_confidence(tip: &Peak, mean: f64) -> f64 {
    calibrated(raw(tip, mean), 1.752, 1.484)
}

/// Share of such stops that lie within 0.2 mm: fitted to 40 stops on 160
/// tuning films.
fn stop_confidence(stop: &Peak, mean: f64) -> f64 {
    calibrated(raw(stop, mean), 1.453, 0.021)
}

/// What the reader says of a peak, less where the line to it hardly shows.
fn raw(peak: &Peak, mean: f64) -> f64 {
    f64::from(peak.value) * (mean / 0.5).min(1.0)
}
