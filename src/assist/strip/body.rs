//! Whether anything stands beside a file where the body of a stop would be.

use std::ops::RangeInclusive;

use super::{ROWS, Strip};

/// Rows of a stop's body, coronal of its face, 0.1 mm each: stops are 1 mm high
/// at least, and 2 to 3 mm wide (common practice, no source).
const FROM_FACE: RangeInclusive<usize> = 2..=9;
/// Columns on either side of the file, 0.5 to 0.9 mm aside: clear of the
/// thickest, inside the narrowest stop.
const SIDES: [RangeInclusive<usize>; 2] = [7..=10, 21..=24];
const FILE: RangeInclusive<usize> = 14..=17;

/// Mean of the cells, NaN where one lies off the film.
fn mean(strip: &Strip, rows: RangeInclusive<usize>, columns: &RangeInclusive<usize>) -> f64 {
    let count = rows.clone().count() * columns.clone().count();
    let cells = rows.flat_map(|row| columns.clone().map(move |column| (row, column)));
    let values = cells.map(|(row, column)| strip.values[row * strip.columns + column]);
    values.map(f64::from).sum::<f64>() / count as f64
}

impl Strip {
    /// How much stands beside the file where the body of a stop with its face in
    /// row `face` would be: above the least that stands there anywhere along the
    /// strip (of a stop's steps and columns), over what the file itself does; of
    /// two sides the lesser, 0 where neither is on the film. About 0 in air.
    pub fn stop_body(&self, face: usize) -> f64 {
        let rows = face - FROM_FACE.end()..=face - FROM_FACE.start();
        let high = rows.end() - rows.start();
        let side = |columns: &RangeInclusive<usize>| {
            let along = (0..ROWS - high).map(|row| mean(self, row..=row + high, columns));
            let least = along.fold(f64::INFINITY, f64::min);
            let file = mean(self, rows.clone(), &FILE) - least;
            (mean(self, rows.clone(), columns) - least) / file.max(1e-3)
        };
        let [left, right] = SIDES.map(|columns| side(&columns));
        let lesser = left.min(right);
        if lesser.is_nan() { 0.0 } else { lesser }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assist::strip::COLUMNS;

    const FACE: usize = 96;

    /// A file along the middle, and what `beside` says of a row and a distance
    /// from the file in columns.
    fn strip(beside: impl Fn(usize, f64) -> f32) -> Strip {
        let middle = 0.5 * (COLUMNS as f64 - 1.0);
        let cells = (0..ROWS).flat_map(|row| (0..COLUMNS).map(move |column| (row, column)));
        let values = cells.map(|(row, column)| {
            let aside = column as f64 - middle;
            if aside.abs() < 2.5 {
                0.9
            } else {
                beside(row, aside)
            }
        });
        Strip {
            columns: COLUMNS,
            values: values.collect(),
        }
    }

    #[test]
    fn a_file_that_runs_on_in_air_has_no_body_beside_it() {
        // The crown's edge lies in the face's row: the face itself is an edge.
        let bare = strip(|row, _| if row >= FACE { 0.5 } else { 0.1 });
        assert!(bare.stop_body(FACE).abs() < 1e-6);
    }

    #[test]
    fn a_disc_on_the_crown_is_a_body_and_half_a_one_is_none() {
        let disc = |row: usize| (FACE - 12..FACE).contains(&row);
        let air_or_crown = |row: usize| if row >= FACE { 0.5 } else { 0.1 };
        let whole = strip(|row, aside| match aside.abs() < 12.0 && disc(row) {
            true => 0.3,
            false => air_or_crown(row),
        });
        // (0.3 − 0.1)/(0.9 − 0.1)
        assert!((whole.stop_body(FACE) - 0.25).abs() < 1e-6);
        let clamp = strip(|row, aside| match aside > 0.0 && row < FACE {
            true => 0.85,
            false => air_or_crown(row),
        });
        assert!(clamp.stop_body(FACE).abs() < 1e-6);
    }

    #[test]
    fn one_side_off_the_film_leaves_the_other() {
        let disc = |row: usize, aside: f64| -> f32 {
            let on = (FACE - 12..FACE).contains(&row);
            if aside > 5.0 {
                f32::NAN
            } else if on {
                0.3
            } else {
                0.1
            }
        };
        assert!((strip(disc).stop_body(FACE) - 0.25).abs() < 1e-6);
        let cut = strip(|row, aside| {
            if row < FACE {
                f32::NAN
            } else {
                disc(row, aside)
            }
        });
        assert_eq!(cut.stop_body(FACE), 0.0);
    }
}
