//! The film straightened along a file's line, and the small learned filter
//! that says where on it the file ends or its stop sits.
//!
//! It was trained on strips of phantom films of the tuning set alone
//! (`tests/scripts/train_strips.py`), varied far beyond them, with the place
//! asked for anywhere on the strip: unlike the film reader it knows nothing of
//! where files usually end.

mod body;
mod course;
mod net;

use super::polyline::arc_lengths_px;
use super::raster::{Raster, Region};
use super::reader::cells_of;
use crate::film::Film;
use crate::units::FilmPoint;

pub use course::Course;
pub use net::{Told, Weights, try_weights};

/// What is asked of a strip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    Tip,
    Stop,
}

/// Rows and columns that the filter sees.
pub const ROWS: usize = 192;
pub const COLUMNS: usize = 32;

impl End {
    /// Between rows, and between columns, mm.
    pub fn step_mm(self) -> f64 {
        match self {
            Self::Tip => 0.05,
            Self::Stop => 0.1,
        }
    }

    /// The film's opacity on cells as large as the strip's, within `margin_px`
    /// of `places`; `None` where they lie off the film.
    pub fn cells(
        self,
        film: &Film,
        places: &[FilmPoint],
        margin_px: f64,
        mm_per_px: f64,
    ) -> Option<Raster> {
        let region = Region::around(film, places, margin_px)?;
        let finer = super::reader::CELL_MM / self.step_mm();
        Some(cells_of(film, region, mm_per_px * finer))
    }
}

/// The direction beyond a line's end is that of its last millimetre.
const AHEAD_MM: f64 = 1.0;

/// `rows` places along `line` (coronal to apical), `end.step_mm()` apart, of
/// which row `middle` lies `at_px` from the line's start; straight on beyond
/// its ends.
pub fn axis(
    end: End,
    line: &[FilmPoint],
    at_px: f64,
    rows: usize,
    middle: usize,
    px_per_mm: f64,
) -> Vec<FilmPoint> {
    let step_px = end.step_mm() * px_per_mm;
    places(line, at_px, rows, middle, step_px, px_per_mm)
}

/// The same, `step_px` apart.
fn places(
    line: &[FilmPoint],
    at_px: f64,
    rows: usize,
    middle: usize,
    step_px: f64,
    px_per_mm: f64,
) -> Vec<FilmPoint> {
    let lengths = arc_lengths_px(line);
    let last = lengths.len().saturating_sub(1);
    let total = lengths.last().copied().unwrap_or(0.0);
    let inner = (AHEAD_MM * px_per_mm).min(total);
    let within = |s: f64| -> FilmPoint {
        let k = lengths.partition_point(|l| *l <= s).clamp(1, last.max(1));
        let (a, b) = (line[k - 1], line[k.min(last)]);
        let f = (s - lengths[k - 1]) / (lengths[k.min(last)] - lengths[k - 1]).max(1e-9);
        FilmPoint::new(a.x + f * (b.x - a.x), a.y + f * (b.y - a.y))
    };
    (0..rows)
        .map(|row| {
            let s = at_px + (row as f64 - middle as f64) * step_px;
            let on = s.clamp(0.0, total);
            let place = within(on);
            let back = within(if s < 0.0 { inner } else { total - inner });
            let f = if s == on {
                0.0
            } else {
                (s - on).abs() / inner.max(1e-9)
            };
            FilmPoint::new(
                place.x + f * (place.x - back.x),
                place.y + f * (place.y - back.y),
            )
        })
        .collect()
}

/// A strip of a film: row by row along an axis, `columns` across it.
pub struct Strip {
    pub columns: usize,
    /// Opacity 0..=1; NaN off the film.
    pub values: Vec<f32>,
}

impl Strip {
    /// The strip about `axis` (points at equal steps, two at least), sampled
    /// from `cells`, with `columns` places `column_px` apart in each row.
    pub fn along(
        film: &Film,
        cells: &Raster,
        axis: &[FilmPoint],
        columns: usize,
        column_px: f64,
    ) -> Self {
        let (width, height) = (f64::from(film.width_px()), f64::from(film.height_px()));
        let middle = 0.5 * (columns as f64 - 1.0);
        let mut values = Vec::with_capacity(axis.len() * columns);
        for (p, [nx, ny]) in axis.iter().zip(super::ribbon::normals(axis)) {
            for column in 0..columns {
                let t = (column as f64 - middle) * column_px;
                let place = FilmPoint::new(p.x + t * nx, p.y + t * ny);
                let inside = (0.0..=width).contains(&place.x) && (0.0..=height).contains(&place.y);
                values.push(if inside {
                    cells.sample(place)
                } else {
                    f32::NAN
                });
            }
        }
        Self { columns, values }
    }
}
