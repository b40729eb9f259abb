//! The line of the file that was pressed, its ends and its stop, as the film
//! reader tells them: the coarse place from which the film itself is read.

use super::AssistError;
use super::doubt::FileDoubt;
use super::polyline::{arc_lengths_px, distance_to_polyline_px, resampled, smoothed};
use super::raster::Raster;
use super::reader::{FilmReading, Peak, Sign, Ways};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A file as the reader tells it.
#[derive(Clone, Debug)]
pub(super) struct ReadFile {
    /// Coronal end → tip, steps of [`STEP_MM`].
    pub line: Vec<FilmPoint>,
    /// Value of the tip's peak, 0 where the reader names no tip.
    pub tip_value: f64,
    /// The stop the line starts at, if the reader names one.
    pub stop: Option<Peak>,
    /// Value of the second-best tip over that of the best, 0..=1.
    pub tip_rival: f64,
    /// The same of the stops.
    pub stop_rival: f64,
    /// What the film's copies and its looks say of it.
    pub doubt: FileDoubt,
}

/// A stop is claimed from this confidence on: a wrong one is a wrong scale.
pub(super) const CLAIM_STOP: f64 = 0.9;

/// Step along the line, mm.
pub(super) const STEP_MM: f64 = 0.1;
/// The line is smoothed by this σ, mm: cells of 0.1 mm have steps, a file has
/// none, and bends over several mm.
const SMOOTH_MM: f64 = 0.5;
/// Peaks below this are noise of the maps: on tuning films one in thirty of
/// them is a tip or a stop.
const LEAST_PEAK: f32 = 0.04;
/// A press misses the file by no more, mm: a thick file's half width and a
/// trembling hand.
const PRESS_MM: f64 = 0.7;
/// A line runs where the map says at least this, somewhere near the press.
const LEAST_ON_FILE: f32 = 0.15;
/// The longest file (31 mm), as cells, and gaps behind metal on the way.
const LIMIT: f32 = 1400.0;
/// Mean cost a cell of a way that is a file's on most of its length.
const PER_CELL: f32 = 3.0;
/// Nearer to the film's edge than this a line's course is not told, mm: the
/// reader sees half of what is around such a place.
const EDGE_MM: f64 = 1.0;
/// A file shows at least this length, mm; less is a mark or a trabecula.
const LEAST_LENGTH_MM: f64 = 4.0;

/// The place within [`PRESS_MM`] of a press where the file map is highest.
fn on_file(reading: &FilmReading, near: FilmPoint, px_per_mm: f64) -> Option<FilmPoint> {
    let map = reading.map(Sign::File);
    let reach = (PRESS_MM * px_per_mm / map.cell_px).ceil() as isize;
    let (x, y) = map.cell_at(near);
    let mut best: Option<(f32, FilmPoint)> = None;
    for v in y as isize - reach..=y as isize + reach {
        for u in x as isize - reach..=x as isize + reach {
            let inside =
                (0..map.width() as isize).contains(&u) && (0..map.height() as isize).contains(&v);
            if !inside {
                continue;
            }
            let place = map.film_from_cell(u as usize, v as usize);
            let value = map.values()[v as usize * map.width() + u as usize];
            let close = place.distance_px(near) <= PRESS_MM * px_per_mm;
            if close && value >= LEAST_ON_FILE && best.is_none_or(|(b, _)| value > b) {
                best = Some((value, place));
            }
        }
    }
    best.map(|(_, place)| place)
}

/// A smooth line from `first` to `last` through the cells of `way`.
fn drawn(
    mut way: Vec<FilmPoint>,
    first: FilmPoint,
    last: FilmPoint,
    px_per_mm: f64,
) -> Vec<FilmPoint> {
    let inner = way.len().saturating_sub(1);
    if let Some(end) = way.first_mut() {
        *end = first;
    }
    if let Some(end) = way.get_mut(inner) {
        *end = last;
    }
    let even = resampled(&way, STEP_MM * px_per_mm, 8);
    smoothed(&even, SMOOTH_MM / STEP_MM)
}

/// The part of a line (coronal end → tip) that has not come to the film's edge:
/// along it the map shows the edge itself.
fn inside_the_film(map: &Raster, mut line: Vec<FilmPoint>, px_per_mm: f64) -> Vec<FilmPoint> {
    let at_edge = |place: &FilmPoint| {
        let (x, y) = map.cell_at(*place);
        let cells = x.min(y).min(map.width() - 1 - x).min(map.height() - 1 - y);
        cells as f64 * map.cell_px < EDGE_MM * px_per_mm
    };
    if let Some(inside) = line.iter().rposition(|place| !at_edge(place)) {
        let cut = line[..inside].iter().rposition(at_edge);
        line.drain(..cut.map_or(0, |at| at + 1));
    }
    line
}

/// Mean of the file map along a line.
fn mean_along(reading: &FilmReading, line: &[FilmPoint]) -> f64 {
    line.iter().map(|p| reading.at(Sign::File, *p)).sum::<f64>() / line.len().max(1) as f64
}

fn length_px(line: &[FilmPoint]) -> f64 {
    arc_lengths_px(line).last().copied().unwrap_or(0.0)
}

/// The file through `near`; `None` where the reader sees none there.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn read_file(
    reading: &FilmReading,
    near: FilmPoint,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Option<ReadFile>, AssistError> {
    let Some(on) = on_file(reading, near, px_per_mm) else {
        return Ok(None);
    };
    let map = reading.map(Sign::File);
    let from_press = Ways::from(map, on, LIMIT, progress)?;
    // The tip that the line from the press leads to best.
    let mut best: Option<(f64, Peak)> = None;
    let mut tip_scores = Vec::new();
    for tip in reading.peaks(Sign::Tip, LEAST_PEAK) {
        if from_press.cost_to(tip.place).is_none() {
            continue;
        }
        let way = from_press.line_to(tip.place);
        let mean = mean_along(reading, &way);
        let score = f64::from(tip.value) * mean;
        tip_scores.push(score);
        if best.is_none_or(|(b, _)| score > b) {
            best = Some((score, tip));
        }
    }
    let (tip_place, tip_value) = match best {
        Some((_, tip)) => (tip.place, tip.value),
        None => match from_press.farthest(0.3, PER_CELL, 0.0) {
            Some(end) => (end, 0.0),
            None => return Ok(None),
        },
    };
    let tip = Peak {
        place: tip_place,
        value: tip_value,
    };
    let Some(file) = file_to_tip(reading, &tip, Some(near), px_per_mm, progress)? else {
        return Ok(None);
    };
    Ok(Some(ReadFile {
        tip_rival: rival(&mut tip_scores),
        ..file
    }))
}

/// The file that ends at `tip`, through `near` if that is given.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn file_to_tip(
    reading: &FilmReading,
    tip: &Peak,
    near: Option<FilmPoint>,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Option<ReadFile>, AssistError> {
    let map = reading.map(Sign::File);
    let passes = |line: &[FilmPoint]| {
        near.is_none_or(|near| distance_to_polyline_px(near, line) <= 1.5 * PRESS_MM * px_per_mm)
    };
    let ways = Ways::from(map, tip.place, LIMIT, progress)?;
    let mut with_stop: Option<(f64, Peak, Vec<FilmPoint>)> = None;
    let mut stop_scores = Vec::new();
    for stop in reading.peaks(Sign::Stop, LEAST_PEAK) {
        if ways.cost_to(stop.place).is_none() {
            continue;
        }
        let mut way = ways.line_to(stop.place);
        way.reverse();
        if way.len() < 3 {
            continue;
        }
        let line = drawn(way, stop.place, tip.place, px_per_mm);
        if !passes(&line) || length_px(&line) < LEAST_LENGTH_MM * px_per_mm {
            continue;
        }
        let score = f64::from(stop.value) * mean_along(reading, &line);
        stop_scores.push(score);
        if with_stop.as_ref().is_none_or(|(b, ..)| score > *b) {
            with_stop = Some((score, stop, line));
        }
    }
    let (stop, line) = match with_stop {
        Some((_, stop, line)) => (Some(stop), line),
        None => {
            let Some(end) = ways.farthest(0.3, PER_CELL, 0.0) else {
                return Ok(None);
            };
            let mut way = ways.line_to(end);
            way.reverse();
            if way.len() < 3 {
                return Ok(None);
            }
            let line = drawn(way, end, tip.place, px_per_mm);
            (None, inside_the_film(map, line, px_per_mm))
        }
    };
    if length_px(&line) < LEAST_LENGTH_MM * px_per_mm {
        return Ok(None);
    }
    Ok(Some(ReadFile {
        line,
        tip_value: f64::from(tip.value),
        stop,
        tip_rival: 0.0,
        stop_rival: rival(&mut stop_scores),
        doubt: FileDoubt::of(reading, stop.map(|s| s.place), px_per_mm),
    }))
}

/// The second-highest of `scores` over the highest; 0 without a second.
fn rival(scores: &mut [f64]) -> f64 {
    scores.sort_by(|a, b| b.total_cmp(a));
    match *scores {
        [first, second, ..] => second / first.max(1e-12),
        _ => 0.0,
    }
}
