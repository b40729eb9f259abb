//! The film reader: a small learned filter that says, for every cell of a
//! film, how much it looks like a file, a file's tip, the tooth-side face of a
//! stop, a root's apex or a canal.
//!
//! It was trained on phantom films of the tuning set alone
//! (`tests/scripts/train_reader.py`), never on a film of a person.

mod copies;
mod input;
mod layers;
mod likeness;
mod lines;
mod net;
mod peaks;
mod sign;
mod views;

use copies::FilmCopy;
pub(super) use layers::{Layer, Planes};
use rayon::prelude::*;
use views::View;

use super::AssistError;
use super::raster::{Raster, Region};
use crate::film::Film;
use crate::progress::Progress;
use crate::units::FilmPoint;

pub use copies::CopyPeak;
pub(super) use input::cells_of;
pub use input::{CELL_MM, film_cells};
pub(super) use lines::Ways;
pub(super) use net::from_half;
pub use net::try_weights;
pub use peaks::Peak;
pub use sign::Sign;

/// What is meant, of several: the maps then show this alone.
#[derive(Clone, Copy, Debug, Default)]
pub struct Presses<'a> {
    /// A press on a file.
    pub file: Option<FilmPoint>,
    /// Presses on a canal, near both of its ends at least.
    pub canal: &'a [FilmPoint],
}

/// How much every cell of 0.1 mm looks like each sign, 0..=1.
pub struct FilmReading {
    maps: [Raster; 5],
    /// What each copy of the film said, the film itself first.
    copies: Vec<FilmCopy>,
    /// Size of a cell, mm.
    pub cell_mm: f64,
    /// How like the films that confidences were fitted to this one looks, 0..=1.
    pub likeness: f64,
    /// What that rests on: how much of the map of root ends the clearest of them
    /// holds, cells.
    pub clearest_cells: f64,
}

impl FilmReading {
    /// Reads the part `region` of `film`, where a pixel is about `mm_per_px`.
    ///
    /// # Errors
    /// [`AssistError::Cancelled`].
    pub fn of(
        film: &Film,
        region: Region,
        mm_per_px: f64,
        presses: &Presses,
        progress: &Progress,
    ) -> Result<Self, AssistError> {
        // Presses say what is meant; without any the film is read more often.
        let views = match (presses.file, presses.canal) {
            (None, []) => views::UNASKED,
            (_, []) => views::PRESSED_FILE,
            _ => views::PRESSED_CANAL,
        };
        let levels = levels(film);
        let read = |view: &View| -> Result<FilmCopy, AssistError> {
            let cells = input::cells_of(film, region, mm_per_px / view.coarser);
            progress.check()?;
            let mut planes = standardised(&cells, levels);
            for (plane, places) in [(4, presses.file.as_slice()), (5, presses.canal)] {
                mark(&mut planes, plane, places, &cells);
            }
            let seen = views::run(&planes, view.turn, progress)?;
            Ok(FilmCopy::new(&seen, cells.origin, 2.0 * cells.cell_px))
        };
        let copies: Vec<FilmCopy> = views.par_iter().map(read).collect::<Result<_, _>>()?;
        let maps = copies::mean_maps(&copies);
        let cell_mm = 2.0 * CELL_MM;
        let clearest_cells = likeness::clearest_cells(&maps[Sign::Apex as usize], cell_mm);
        Ok(Self {
            likeness: likeness::likeness(clearest_cells),
            clearest_cells,
            maps,
            copies,
            cell_mm,
        })
    }

    /// The map of one sign.
    pub fn map(&self, sign: Sign) -> &Raster {
        &self.maps[sign as usize]
    }

    /// Places where a sign peaks, surest first, at least `least` sure.
    pub fn peaks(&self, sign: Sign, least: f32) -> Vec<Peak> {
        peaks::peaks(self.map(sign), least)
    }

    /// How much the film looks like `sign` at a place.
    pub fn at(&self, sign: Sign, place: FilmPoint) -> f64 {
        f64::from(self.map(sign).sample(place))
    }

    /// Where each copy of the film, itself first, sees the sign that the mean
    /// of all sees at `place`.
    pub fn copies_at(&self, sign: Sign, place: FilmPoint) -> Vec<CopyPeak> {
        let own = self.copies.iter();
        own.map(|copy| copy.peak_near(sign, place)).collect()
    }

    /// What the filter's widest layer says around a place of the film itself.
    pub fn surroundings(&self, place: FilmPoint) -> Vec<f32> {
        let own = self.copies.first();
        own.map_or_else(Vec::new, |copy| copy.surroundings(place))
    }
}

/// The 5th and 95th percentile of the whole film's opacity, from every
/// seventh sample of every fifth row.
fn levels(film: &Film) -> [f32; 2] {
    let thin = Raster::from_film(film, Region::whole(film), 0);
    let mut values: Vec<f32> = (0..thin.height())
        .step_by(5)
        .flat_map(|y| thin.row(y).iter().copied().step_by(7))
        .collect();
    values.sort_by(f32::total_cmp);
    [0.05, 0.95].map(|share| {
        let place = share * (values.len() - 1) as f64;
        let (low, part) = (place as usize, place.fract() as f32);
        let high = (low + 1).min(values.len() - 1);
        values[low] + part * (values[high] - values[low])
    })
}

/// The planes that the reader sees: every second cell of the film, with its
/// `levels` of opacity at −1 and 1, and two empty ones for presses.
fn standardised(cells: &Raster, [low, high]: [f32; 2]) -> Planes {
    let gain = 2.0 / (high - low).max(0.02);
    let (width, height) = (cells.width().div_ceil(2), cells.height().div_ceil(2));
    let mut planes = Planes::zeros(6, width, height);
    for plane in 0..4 {
        let (dy, dx) = (plane / 2, plane % 2);
        for y in 0..height {
            if 2 * y + dy >= cells.height() {
                continue;
            }
            let from = cells.row(2 * y + dy).iter().skip(dx).step_by(2);
            for (value, v) in planes.row_mut(plane, y).iter_mut().zip(from) {
                *value = ((v - low) * gain - 1.0).clamp(-2.5, 2.5);
            }
        }
    }
    planes
}

/// Deviation of the Gaussian that marks a press, cells of 0.1 mm: presses miss
/// by about that.
const PRESS_CELLS: f64 = 2.0;

/// Marks presses on a plane.
fn mark(planes: &mut Planes, plane: usize, places: &[FilmPoint], cells: &Raster) {
    for place in places {
        let (x, y) = cells.cells_from_film(*place);
        let (cx, cy) = (0.5 * x, 0.5 * y);
        let reach = 5.0 * PRESS_CELLS;
        let low = (cy - reach).max(0.0) as usize;
        let high = ((cy + reach).max(0.0) as usize).min(planes.height.saturating_sub(1));
        for row in low..=high {
            let dy = row as f64 + 0.5 - cy;
            for (column, value) in planes.row_mut(plane, row).iter_mut().enumerate() {
                let dx = column as f64 + 0.5 - cx;
                let mark = (-0.5 * (dx * dx + dy * dy) / PRESS_CELLS.powi(2)).exp();
                *value = value.max(mark as f32);
            }
        }
    }
}

#[cfg(test)]
mod tests {

    use super::*;

    /// The maps that the training program computed with the same weights.
    #[test]
    fn maps_equal_those_of_the_training_program() {
        let bytes = include_bytes!("weights.check");
        let (quads, _) = bytes.as_chunks::<4>();
        let numbers: Vec<f32> = quads.iter().map(|b| f32::from_le_bytes(*b)).collect();
        let mut planes = Planes::zeros(6, 64, 64);
        for plane in 0..6 {
            for y in 0..64 {
                let from = &numbers[(plane * 64 + y) * 64..][..64];
                planes.row_mut(plane, y).copy_from_slice(from);
            }
        }
        let logits = net::run(&planes, &Progress::unwatched()).unwrap().logits;
        for map in 0..5 {
            for y in 0..64 {
                let want = &numbers[6 * 64 * 64 + (map * 64 + y) * 64..][..64];
                for (found, want) in logits.row(map, y).iter().zip(want) {
                    let bound = 0.02 + 0.01 * want.abs();
                    assert!((found - want).abs() < bound, "{found} for {want}");
                }
            }
        }
    }
}
