//! Peaks of a map, to a fraction of a cell.

use crate::assist::raster::Raster;
use crate::units::FilmPoint;

/// A place where a sign peaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Centre of mass of the peak.
    pub place: FilmPoint,
    /// Value of the map, 0..=1.
    pub value: f32,
}

/// A peak is the highest cell within this many cells.
const REACH: isize = 4;
/// Its centre of mass counts cells up to this far.
const MASS_REACH: isize = 2;

/// The peaks of at least `least`, highest first.
pub(super) fn peaks(map: &Raster, least: f32) -> Vec<Peak> {
    let (width, height) = (map.width() as isize, map.height() as isize);
    let at = |x: isize, y: isize| map.values[(y * width + x) as usize];
    let mut found = Vec::new();
    for y in 0..height {
        for x in 0..width {
            let value = at(x, y);
            if value < least {
                continue;
            }
            let highest = (-REACH..=REACH).all(|dy| {
                (-REACH..=REACH).all(|dx| {
                    let (u, v) = (x + dx, y + dy);
                    // Of equal cells the first one counts.
                    !(0..width).contains(&u)
                        || !(0..height).contains(&v)
                        || at(u, v) < value
                        || (at(u, v) == value && (dy, dx) >= (0, 0))
                })
            });
            if !highest {
                continue;
            }
            let (mut sum, mut sum_x, mut sum_y) = (0.0f64, 0.0f64, 0.0f64);
            for v in (y - MASS_REACH).max(0)..=(y + MASS_REACH).min(height - 1) {
                for u in (x - MASS_REACH).max(0)..=(x + MASS_REACH).min(width - 1) {
                    let weight = f64::from(at(u, v));
                    sum += weight;
                    sum_x += weight * (u as f64 + 0.5);
                    sum_y += weight * (v as f64 + 0.5);
                }
            }
            found.push(Peak {
                place: FilmPoint::new(
                    map.origin.x + sum_x / sum * map.cell_px,
                    map.origin.y + sum_y / sum * map.cell_px,
                ),
                value,
            });
        }
    }
    found.sort_by(|a, b| b.value.total_cmp(&a.value));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A Gaussian between cells is found to a hundredth of a cell.
    #[test]
    fn a_peak_is_found_between_cells() {
        let (width, height, cx, cy) = (40usize, 30usize, 17.3f64, 11.8f64);
        let values = (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
                (0.9 * (-((x - cx).powi(2) + (y - cy).powi(2)) / 2.0).exp()) as f32
            })
            .collect();
        let map = Raster::from_values(width, height, values).unwrap();
        let found = peaks(&map, 0.3);
        assert_eq!(found.len(), 1);
        let place = found[0].place;
        assert!(
            (place.x - cx).abs() < 0.06 && (place.y - cy).abs() < 0.06,
            "{place:?}"
        );
    }
}
