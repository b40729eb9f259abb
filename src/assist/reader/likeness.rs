//! How like the films that confidences were fitted to a film looks to the
//! reader.

use super::peaks::peaks;
use crate::assist::raster::Raster;
use crate::units::FilmPoint;

/// A root's end is stamped as a Gaussian of σ 0.25 mm in training; this much
/// around its place holds all that counts, mm.
const AROUND_MM: f64 = 0.6;
/// Lower peaks are noise of the map.
const LEAST_PEAK: f32 = 0.06;
/// The clearest root end of a film holds this much of the map, cells: median
/// of 298 phantom films of the tuning set, and the deviation that its 5 %
/// quantile (37.0) tells.
const USUAL: f64 = 40.9;
const DEVIATION: f64 = 2.38;
/// Deviations below the median: up to the first, 95 % of those films, nothing
/// is doubted; at the second, which one in a thousand would fall below by
/// chance, confidences are halved, and beyond they go on falling.
const ALIKE: f64 = 1.645;
const UNLIKE: f64 = 3.0;

/// The sum of `map` within 0.6 mm of a place, cells.
fn mass(map: &Raster, place: FilmPoint, cell_mm: f64) -> f64 {
    let reach = AROUND_MM / cell_mm;
    let (x, y) = map.cells_from_film(place);
    let span = |at: f64, count: usize| {
        let low = (at - reach).floor().max(0.0) as usize;
        low.min(count)..((at + reach).ceil().max(0.0) as usize).min(count)
    };
    let mut sum = 0.0;
    for v in span(y, map.height()) {
        for u in span(x, map.width()) {
            if (u as f64 + 0.5 - x).hypot(v as f64 + 0.5 - y) < reach {
                sum += f64::from(map.values()[v * map.width() + u]);
            }
        }
    }
    sum
}

/// How much of the map of root ends the clearest of them holds, cells; 0 where
/// there is none.
pub(super) fn clearest_cells(apices: &Raster, cell_mm: f64) -> f64 {
    peaks(apices, LEAST_PEAK)
        .iter()
        .map(|peak| mass(apices, peak.place, cell_mm))
        .fold(0.0, f64::max)
}

/// What confidences are multiplied by: 1 where a root's end shows as clearly as
/// on the films they were fitted to, less where none does.
pub(super) fn likeness(clearest_cells: f64) -> f64 {
    let below = (USUAL - clearest_cells) / DEVIATION;
    if below <= ALIKE {
        1.0
    } else if below <= UNLIKE {
        1.0 - 0.5 * (below - ALIKE) / (UNLIKE - ALIKE)
    } else {
        0.5 * UNLIKE / below
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A map with one Gaussian of this height and width, cells.
    fn map(height: f64, sigma: f64) -> Raster {
        let values = (0..80 * 80)
            .map(|i| {
                let (x, y) = (f64::from(i % 80) + 0.5, f64::from(i / 80) + 0.5);
                let r2 = (x - 40.0).powi(2) + (y - 41.0).powi(2);
                (height * (-0.5 * r2 / (sigma * sigma)).exp()) as f32
            })
            .collect();
        Raster::from_values(80, 80, values).unwrap()
    }

    /// A whole Gaussian of σ 2.5 cells holds 2πσ² = 39.3 cells.
    #[test]
    fn a_film_without_a_clear_root_end_is_unlike() {
        let clear = map(1.0, 2.5);
        let held = mass(&clear, FilmPoint::new(40.0, 41.0), 0.1);
        assert!(
            (held - 39.27 * (1.0 - (-0.5f64 * 5.76).exp())).abs() < 0.7,
            "{held}"
        );
        let of = |height: f64| likeness(clearest_cells(&map(height, 2.5), 0.1));
        // What it holds lies at the edge of what is usual, 37 cells.
        assert_eq!(of(1.03), 1.0);
        assert!((0.99..=1.0).contains(&of(1.0)), "{}", of(1.0));
        let faint = of(0.55);
        assert!((0.1..0.3).contains(&faint), "{faint}");
        let half = of(0.908);
        assert!((half - 0.5).abs() < 0.1, "{half}");
        assert!(of(0.0) < 0.1);
    }
}
