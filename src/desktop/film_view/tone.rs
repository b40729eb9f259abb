//! How grey samples are shown: window, inversion, automatic and local
//! contrast. For the eye only: stored samples never change.

use crate::film::{Film, Polarity};

/// The grey window of a view, in stored sample values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Sample value shown as middle grey.
    pub centre: f32,
    /// Range of sample values between black and white.
    pub width: f32,
    /// Bright and dark exchanged.
    pub inverted: bool,
}

/// Parts of the histogram left to black and white by automatic contrast.
const AUTO_TAILS: (f64, f64) = (0.005, 0.995);

impl Tone {
    /// The whole range of the film's depth.
    pub fn full(film: &Film) -> Self {
        let top = max_sample(film);
        Self {
            centre: top / 2.0,
            width: top,
            inverted: false,
        }
    }

    /// The window that holds 99 % of the film's samples.
    pub fn automatic(film: &Film) -> Self {
        let mut histogram = vec![0u32; usize::from(u16::MAX) + 1];
        // A prime step samples large films evenly without reading all of them.
        let step = if film.samples().len() > 4_000_000 { 13 } else { 1 };
        let mut count = 0u32;
        for &sample in film.samples().iter().step_by(step) {
            histogram[usize::from(sample)] += 1;
            count += 1;
        }
        let value_at = |part: f64| {
            let wanted = part * f64::from(count);
            let mut below = 0.0;
            for (value, &n) in histogram.iter().enumerate() {
                below += f64::from(n);
                if below >= wanted {
                    return value as f32;
                }
            }
            max_sample(film)
        };
        let (low, high) = (value_at(AUTO_TAILS.0), value_at(AUTO_TAILS.1));
        Self {
            centre: (low + high) / 2.0,
            width: (high - low).max(1.0),
            inverted: false,
        }
    }

    /// 8-bit grey for every possible sample of a film of this polarity.
    pub fn lookup(&self, polarity: Polarity) -> Vec<u8> {
        let flip = self.inverted != (polarity == Polarity::LowIsOpaque);
        let low = self.centre - self.width / 2.0;
        let scale = 255.0 / self.width.max(1.0);
        (0..=u16::MAX)
            .map(|sample| {
                let grey = ((f32::from(sample) - low) * scale).clamp(0.0, 255.0) as u8;
                if flip { 255 - grey } else { grey }
            })
            .collect()
    }
}

/// The largest sample value the film's depth allows.
pub fn max_sample(film: &Film) -> f32 {
    ((1u32 << film.bits_stored()) - 1) as f32
}

/// Contrast-limited adaptive equalisation (Zuiderveld 1994, Graphics Gems IV,
/// VIII.5): the histogram of each of 8 × 8 regions is equalised with its slope
/// limited, and the four nearest mappings are blended.
pub fn local_contrast(film: &Film) -> Film {
    const REGIONS: usize = 8;
    const BINS: usize = 256;
    /// Largest bin against a flat histogram.
    const SLOPE_LIMIT: f32 = 2.5;
    let (width, height) = (film.width_px() as usize, film.height_px() as usize);
    let shift = u32::from(film.bits_stored()).saturating_sub(8);
    let (region_w, region_h) = (width.div_ceil(REGIONS), height.div_ceil(REGIONS));
    let (columns, rows) = (width.div_ceil(region_w), height.div_ceil(region_h));

    let mapping_of = |column: usize, row: usize| -> Vec<f32> {
        let mut histogram = [0f32; BINS];
        let xs = column * region_w..((column + 1) * region_w).min(width);
        let ys = row * region_h..((row + 1) * region_h).min(height);
        let count = (xs.len() * ys.len()) as f32;
        for y in ys {
            for sample in &film.samples()[y * width + xs.start..y * width + xs.end] {
                histogram[usize::from(sample >> shift).min(BINS - 1)] += 1.0;
            }
        }
        let limit = SLOPE_LIMIT * count / BINS as f32;
        let excess: f32 = histogram.iter().map(|n| (n - limit).max(0.0)).sum();
        let mut below = 0.0;
        histogram
            .iter()
            .map(|n| {
                below += n.min(limit) + excess / BINS as f32;
                below / count
            })
            .collect()
    };
    let mappings: Vec<Vec<f32>> = (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (column, row)))
        .map(|(column, row)| mapping_of(column, row))
        .collect();

    // Blend between the mappings of the four nearest region centres.
    let neighbours = |at: usize, size: usize, count: usize| -> (usize, usize, f32) {
        let place = (at as f32 + 0.5) / size as f32 - 0.5;
        let first = place.floor().clamp(0.0, (count - 1) as f32);
        let second = (first + 1.0).min((count - 1) as f32);
        (first as usize, second as usize, (place - first).clamp(0.0, 1.0))
    };
    let top = max_sample(film);
    let mut samples = Vec::with_capacity(width * height);
    for y in 0..height {
        let (row0, row1, v) = neighbours(y, region_h, rows);
        for x in 0..width {
            let (column0, column1, u) = neighbours(x, region_w, columns);
            let bin = usize::from(film.samples()[y * width + x] >> shift).min(BINS - 1);
            let at = |column: usize, row: usize| mappings[row * columns + column][bin];
            let upper = at(column0, row0) * (1.0 - u) + at(column1, row0) * u;
            let lower = at(column0, row1) * (1.0 - u) + at(column1, row1) * u;
            samples.push(((upper * (1.0 - v) + lower * v) * top) as u16);
        }
    }
    Film::from_samples(
        film.width_px(),
        film.height_px(),
        film.bits_stored(),
        film.polarity(),
        samples,
    )
    .expect("as many samples as before")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> Film {
        let samples = (0..64u16).flat_map(|_| (0..64u16).map(|x| x * 1000)).collect();
        Film::from_samples(64, 64, 16, Polarity::HighIsOpaque, samples).expect("counts fit")
    }

    #[test]
    fn the_window_maps_its_ends_to_black_and_white_and_inversion_swaps_them() {
        let tone = Tone { centre: 1000.0, width: 200.0, inverted: false };
        let lookup = tone.lookup(Polarity::HighIsOpaque);
        assert_eq!((lookup[900], lookup[1000], lookup[1100]), (0, 127, 255));
        let inverted = Tone { inverted: true, ..tone }.lookup(Polarity::HighIsOpaque);
        assert_eq!((inverted[900], inverted[1100]), (255, 0));
        let low_is_opaque = tone.lookup(Polarity::LowIsOpaque);
        assert_eq!((low_is_opaque[900], low_is_opaque[1100]), (255, 0));
    }

    #[test]
    fn automatic_contrast_holds_99_percent_of_the_samples() {
        let film = ramp();
        let tone = Tone::automatic(&film);
        let (low, high) = (tone.centre - tone.width / 2.0, tone.centre + tone.width / 2.0);
        let within = film
            .samples()
            .iter()
            .filter(|&&s| (low..=high).contains(&f32::from(s)))
            .count();
        assert!(within as f64 / film.samples().len() as f64 >= 0.99);
    }

    #[test]
    fn local_contrast_widens_a_faint_step_and_keeps_its_order() {
        // Two greys 2 % apart on a 16-bit film.
        let samples: Vec<u16> = (0..128 * 128)
            .map(|i| if i % 128 < 64 { 30_000 } else { 31_300 })
            .collect();
        let film = Film::from_samples(128, 128, 16, Polarity::HighIsOpaque, samples)
            .expect("counts fit");
        let shown = local_contrast(&film);
        let (dark, bright) = (shown.samples()[64 * 128 + 60], shown.samples()[64 * 128 + 68]);
        assert!(bright > dark + 1300, "{dark} {bright}");
    }
}
