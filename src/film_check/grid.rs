//! A film's opacity as plain numbers.

use crate::film::{Film, Polarity};

/// Opacity 0..=1, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row-major.
    pub values: Vec<f32>,
}

impl Grid {
    /// The opacity of every sample of a film: 0 the most radiolucent, 1 the
    /// most opaque that it can hold.
    pub fn of(film: &Film) -> Self {
        let full = f32::from(((1u32 << film.bits_stored()) - 1) as u16);
        let opaque_high = film.polarity() == Polarity::HighIsOpaque;
        let values = film.samples().iter().map(|&sample| {
            let share = f32::from(sample) / full;
            if opaque_high { share } else { 1.0 - share }
        });
        Self {
            width: film.width_px() as usize,
            height: film.height_px() as usize,
            values: values.collect(),
        }
    }

    pub fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..][..self.width]
    }
}
