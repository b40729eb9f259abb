//! A line moved onto the crest of a map.

use crate::trace::raster::Raster;
use crate::trace::ribbon::Ribbon;
use crate::units::FilmPoint;

/// The crest lies no farther than this from the line, cells.
const REACH_CELLS: f64 = 2.5;
/// Spacing across, cells.
const COLUMN_CELLS: f64 = 0.25;
/// Where the map sums to this across, half of the way to the crest is gone.
const HALF_MASS: f64 = 0.5;

/// `line` (even steps) moved across itself to the centre of mass of `map`, in
/// part where the map says little.
pub(in crate::trace) fn drawn_to_crest(map: &Raster, line: &[FilmPoint]) -> Vec<FilmPoint> {
    let column_px = COLUMN_CELLS * map.cell_px;
    let reach = (REACH_CELLS / COLUMN_CELLS) as usize;
    let ribbon = Ribbon::new(map, line.to_vec(), reach, column_px);
    let columns = ribbon.columns();
    let last = line.len() - 1;
    ribbon
        .values
        .chunks(columns)
        .enumerate()
        .map(|(row, values)| {
            // The ends are where the user clicked, or peaks of their own.
            if row == 0 || row == last {
                return line[row];
            }
            let (mut sum, mut first) = (0.0, 0.0);
            for (column, value) in values.iter().enumerate() {
                let mass = f64::from(*value).powi(2);
                sum += mass;
                first += mass * (column as f64 - reach as f64) * column_px;
            }
            let mass = sum * COLUMN_CELLS;
            ribbon.film_point(row, first / sum.max(1e-9) * mass / (mass + HALF_MASS))
        })
        .collect()
}
