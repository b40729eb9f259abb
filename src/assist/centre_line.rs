//! The centre line of a file that the film reader names.

use super::canal_path::centred_on_map;
use super::file_line::ReadLine;
use super::reader::{FilmReading, Sign};
use crate::units::FilmPoint;

/// A tip or stop that the reader names is this good (standard deviation), mm:
/// half a cell.
const PEAK_MM: f64 = 0.05;

/// The line of a file on the middle of what the reader sees, between the ends
/// that it names.
pub(super) fn centre_line(
    reading: &FilmReading,
    read: &ReadLine,
    px_per_mm: f64,
) -> Vec<FilmPoint> {
    let ends = [read.line.first(), read.line.last()].into_iter().flatten();
    let anchors: Vec<(FilmPoint, f64)> = ends.map(|p| (*p, PEAK_MM)).collect();
    let map = reading.map(Sign::File);
    let mut line = centred_on_map(map, &read.line, &anchors, px_per_mm).path_px;
    // The ends themselves are known along the file too.
    let last = line.len() - 1;
    for (at, end) in [(0, read.line.first()), (last, read.line.last())] {
        if let Some(end) = end {
            line[at] = *end;
        }
    }
    line
}
