//! The film along a whole line that a press is taken for: where files cross or
//! meet, several lines fit, and a filter says along which the file runs.

use super::{COLUMNS, ROWS, Strip, net, places};
use crate::assist::polyline::{arc_lengths_px, nearest_index};
use crate::assist::raster::Region;
use crate::assist::reader::{CELL_MM, cells_of};
use crate::assist::ribbon::normals;
use crate::film::Film;
use crate::units::FilmPoint;

/// The film along a whole line, with the press on it: does the file that was
/// pressed run along the line to either end?
pub struct Course {
    /// [`ROWS`] × [`COLUMNS`] opacities, NaN off the film.
    pub values: Vec<f32>,
    /// Where the press lies: row and column.
    pub press: [f32; 2],
    /// Between rows, mm.
    pub step_mm: f32,
}

/// Rows of a course before its first and beyond its last place.
const COURSE_SPARE: usize = 8;
/// Between the columns of a course, mm: two files of one tooth lie within it.
const COURSE_COLUMN_MM: f64 = 0.1;
/// Deviation of the mark of a press, mm: presses miss by about that.
const PRESS_MM: f32 = 0.15;

impl Course {
    /// The film about `line` (coronal to apical) that a press at `near` may
    /// mean; `None` off the film.
    pub fn of(film: &Film, line: &[FilmPoint], near: FilmPoint, px_per_mm: f64) -> Option<Self> {
        let length_px = arc_lengths_px(line).last().copied().unwrap_or(0.0);
        let step_px = length_px / (ROWS - 1 - 2 * COURSE_SPARE) as f64;
        let column_px = COURSE_COLUMN_MM * px_per_mm;
        let axis = places(line, 0.0, ROWS, COURSE_SPARE, step_px, px_per_mm);
        let region = Region::around(film, &axis, COLUMNS as f64 * column_px)?;
        let finer = CELL_MM / COURSE_COLUMN_MM;
        let cells = cells_of(film, region, finer / px_per_mm);
        let strip = Strip::along(film, &cells, &axis, COLUMNS, column_px);
        let row = nearest_index(&axis, near);
        let [nx, ny] = normals(&axis)[row];
        let aside_px = (near.x - axis[row].x) * nx + (near.y - axis[row].y) * ny;
        let column = 0.5 * (COLUMNS as f64 - 1.0) + aside_px / column_px;
        Some(Self {
            values: strip.values,
            press: [row as f32, column as f32],
            step_mm: (step_px / px_per_mm) as f32,
        })
    }

    /// The press on rows and columns: a Gaussian.
    fn mark(&self) -> Vec<f32> {
        let [row, column] = self.press;
        let cells = (0..ROWS).flat_map(|y| (0..COLUMNS).map(move |x| (y as f32, x as f32)));
        cells
            .map(|(y, x)| {
                let down = (y - row) * self.step_mm / PRESS_MM;
                let across = (x - column) * COURSE_COLUMN_MM as f32 / PRESS_MM;
                (-0.5 * (down * down + across * across)).exp()
            })
            .collect()
    }

    /// How surely the file that was pressed runs along the line to its stop and
    /// to its tip.
    pub fn ends(&self) -> [f64; 2] {
        net::course_ends(&self.values, &self.mark())
    }
}
