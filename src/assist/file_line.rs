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
    /// Value of the tip's peak, 0 where the reader names no tip.
    pub tip_value: f64,
    /// Score of the best other tip over that of this one.
    pub tip_rival: f64,
    /// To where it may begin, likeliest first; one at least.
    pub lines: Vec<ReadLine>,
}

/// One course that a file may take.
#[derive(Clone, Debug)]
pub(super) struct ReadLine {
    /// Coronal end → tip, steps of [`STEP_MM`].
    pub line: Vec<FilmPoint>,
    /// The stop the line starts at, if the reader names one.
    pub stop: Option<Peak>,
    /// Score of the best other stop over that of this one.
    pub rival: f64,
    /// How far from it the press lies, mm.
    pub press_mm: f64,
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
/// Standard deviation of a press about the middle of the file, mm: its own
/// error (docs/uncertainty.md) and a cell of the map.
const PRESS_SIGMA_MM: f64 = 0.2;
/// A line runs where the map says at least this, somewhere near the press.
const LEAST_ON_FILE: f32 = 0.15;
/// The longest file (31 mm), as cells, and gaps behind metal on the way.
const LIMIT: f32 = 1400.0;
/// Mean cost a cell of a way that is a file's on most of its length.
const PER_CELL: f32 = 3.0;
/// Nearer to the film's edge than this a line's course is not told, mm: the
/// reader sees half of what is around such a place.
const EDGE_MM: f64 = 1.0;
/// Tips, and stops of each, that are looked at more closely, and the least share
/// of the best one's score that they have.
const MOST_TRIED: usize = 3;
const LEAST_SHARE: f64 = 0.05;
/// A file shows at least this length, mm; less is a mark or a trabecula.
const LEAST_LENGTH_MM: f64 = 4.0;

/// The place within [`PRESS_MM`] of a press where the file map is highest, what
/// lies farther off counting less: another file may run beside.
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
            let off_mm = place.distance_px(near) / px_per_mm;
            if off_mm > PRESS_MM || value < LEAST_ON_FILE {
                continue;
            }
            let counted = value * (-0.5 * (off_mm / PRESS_SIGMA_MM).powi(2)).exp() as f32;
            if best.is_none_or(|(b, _)| counted > b) {
                best = Some((counted, place));
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

/// A press on a file, and the ways from there.
struct Pressed<'a> {
    near: FilmPoint,
    ways: Ways<'a>,
}

/// The files that a press at `near` may mean, likeliest first; none where the
/// reader sees none there.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn read_files(
    reading: &FilmReading,
    near: FilmPoint,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Vec<ReadFile>, AssistError> {
    let Some(on) = on_file(reading, near, px_per_mm) else {
        return Ok(Vec::new());
    };
    let ways = Ways::from(reading.map(Sign::File), on, LIMIT, progress)?;
    let pressed = Pressed { near, ways };
    let mut tips: Vec<(f64, Peak)> = Vec::new();
    for tip in reading.peaks(Sign::Tip, LEAST_PEAK) {
        if pressed.ways.cost_to(tip.place).is_none() {
            continue;
        }
        let mean = mean_along(reading, &pressed.ways.line_to(tip.place));
        tips.push((f64::from(tip.value) * mean, tip));
    }
    if tips.is_empty()
        && let Some(place) = pressed.ways.farthest(0.3, PER_CELL, 0.0)
    {
        tips.push((0.0, Peak { place, value: 0.0 }));
    }
    tips.sort_by(|a, b| b.0.total_cmp(&a.0));
    let scores: Vec<f64> = tips.iter().map(|tip| tip.0).collect();
    let mut files = Vec::new();
    for (k, (_, tip)) in tips.iter().enumerate().take(MOST_TRIED) {
        if scores[k] < LEAST_SHARE * scores[0] {
            break;
        }
        if let Some(file) = file_to(reading, tip, Some(&pressed), px_per_mm, progress)? {
            files.push(ReadFile {
                tip_rival: rival(&scores, k),
                ..file
            });
        }
    }
    Ok(files)
}

/// The file that ends at `tip`, wherever it runs.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn file_to_tip(
    reading: &FilmReading,
    tip: &Peak,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Option<ReadFile>, AssistError> {
    file_to(reading, tip, None, px_per_mm, progress)
}

/// Cells that the ways to both ends may have in common before the line would
/// run back along itself.
const MOST_COMMON: usize = 10;

/// The way from `end` over the press to `tip`; `None` where both lie on one
/// side of it.
fn way_over(pressed: &Pressed, end: FilmPoint, tip: FilmPoint) -> Option<Vec<FilmPoint>> {
    let mut way = pressed.ways.line_to(end);
    let on = pressed.ways.line_to(tip);
    let common = way.iter().zip(&on).take_while(|(a, b)| a == b).count();
    if common > MOST_COMMON {
        return None;
    }
    way.reverse();
    way.extend(on.iter().skip(1));
    Some(way)
}

/// The file that ends at `tip`, through the press if there is one.
fn file_to(
    reading: &FilmReading,
    tip: &Peak,
    pressed: Option<&Pressed>,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Option<ReadFile>, AssistError> {
    let map = reading.map(Sign::File);
    let ways = Ways::from(map, tip.place, LIMIT, progress)?;
    let way_from = |end: FilmPoint| -> Option<Vec<FilmPoint>> {
        ways.cost_to(end)?;
        let way = match pressed {
            Some(pressed) => way_over(pressed, end, tip.place)?,
            None => {
                let mut way = ways.line_to(end);
                way.reverse();
                way
            }
        };
        (way.len() >= 3).then_some(way)
    };
    let long = |line: &[FilmPoint]| length_px(line) >= LEAST_LENGTH_MM * px_per_mm;
    let mut lines: Vec<(f64, ReadLine)> = Vec::new();
    let read_line = |line: Vec<FilmPoint>, stop: Option<Peak>| {
        let mean = mean_along(reading, &line);
        let press_px = pressed.map_or(0.0, |p| distance_to_polyline_px(p.near, &line));
        let read = ReadLine {
            stop,
            rival: 0.0,
            press_mm: press_px / px_per_mm,
            doubt: FileDoubt::of(reading, stop.map(|s| s.place), px_per_mm),
            line,
        };
        (stop.map_or(0.0, |s| f64::from(s.value)) * mean, read)
    };
    for stop in reading.peaks(Sign::Stop, LEAST_PEAK) {
        let Some(way) = way_from(stop.place) else {
            continue;
        };
        let line = drawn(way, stop.place, tip.place, px_per_mm);
        if long(&line) {
            lines.push(read_line(line, Some(stop)));
        }
    }
    if lines.is_empty() {
        let end = ways.farthest(0.3, PER_CELL, 0.0);
        let Some((end, way)) = end.and_then(|end| Some((end, way_from(end)?))) else {
            return Ok(None);
        };
        let line = inside_the_film(map, drawn(way, end, tip.place, px_per_mm), px_per_mm);
        if !long(&line) {
            return Ok(None);
        }
        lines.push(read_line(line, None));
    }
    lines.sort_by(|a, b| b.0.total_cmp(&a.0));
    let scores: Vec<f64> = lines.iter().map(|line| line.0).collect();
    let tried = scores.iter().take(MOST_TRIED);
    let tried = tried.take_while(|score| **score >= LEAST_SHARE * scores[0]);
    let tried = tried.count();
    let lines = lines.into_iter().take(tried).enumerate();
    Ok(Some(ReadFile {
        tip_value: f64::from(tip.value),
        tip_rival: 0.0,
        lines: lines
            .map(|(k, (_, line))| ReadLine {
                rival: rival(&scores, k),
                ..line
            })
            .collect(),
    }))
}

/// The highest other one of `scores` over number `own`.
fn rival(scores: &[f64], own: usize) -> f64 {
    let others = scores.iter().enumerate().filter(|(k, _)| *k != own);
    let highest = others.map(|(_, score)| *score).fold(0.0, f64::max);
    highest / scores[own].max(1e-12)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a file that runs down a map, a line leads over the press to ends on
    /// either side of it, and back along itself to none.
    #[test]
    fn a_line_leads_over_the_press() {
        let (width, height) = (40, 120);
        let values = (0..width * height).map(|i| if i % width == 20 { 1.0 } else { 0.0 });
        let map = Raster::from_values(width, height, values.collect()).unwrap();
        let at = |y: f64| FilmPoint::new(20.5, y);
        let near = at(60.5);
        let ways = Ways::from(&map, near, LIMIT, &Progress::unwatched()).unwrap();
        let pressed = Pressed { near, ways };
        let way = way_over(&pressed, at(10.5), at(110.5)).unwrap();
        assert_eq!((way[0], way[way.len() - 1]), (at(10.5), at(110.5)));
        assert_eq!(way.len(), 101);
        assert!(way_over(&pressed, at(90.5), at(110.5)).is_none());
    }

    #[test]
    fn a_rival_is_the_best_of_the_others() {
        assert_eq!(rival(&[0.6, 0.3, 0.1], 0), 0.5);
        assert_eq!(rival(&[0.6, 0.3, 0.1], 1), 2.0);
        assert_eq!(rival(&[0.6], 0), 0.0);
    }
}
