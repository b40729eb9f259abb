//! The film at halved sizes, so that far views stay smooth and free of moiré.

use rayon::prelude::*;

use crate::film::Film;

/// Side below which no smaller level is made, px.
const SMALLEST_SIDE_PX: u32 = 256;

/// One size of the film.
#[derive(Debug)]
pub struct Level {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Row-major samples on the film's own scale.
    pub samples: Vec<u16>,
}

/// A film and its halved copies. Level `n` is 2ⁿ times smaller.
#[derive(Debug)]
pub struct Pyramid {
    levels: Vec<Level>,
}

impl Pyramid {
    /// Builds all levels; about 40 ms for 50 megapixels per core.
    pub fn new(film: &Film) -> Self {
        let mut levels = vec![Level {
            width: film.width_px(),
            height: film.height_px(),
            samples: film.samples().to_vec(),
        }];
        while let Some(last) = levels.last()
            && last.width.max(last.height) > SMALLEST_SIDE_PX
        {
            let next = halved(last);
            levels.push(next);
        }
        Self { levels }
    }

    /// All levels, largest first.
    pub fn levels(&self) -> &[Level] {
        &self.levels
    }

    /// The level whose pixels are nearest to, and not larger than, device
    /// pixels at `device_px_per_film_px`.
    pub fn level_for(&self, device_px_per_film_px: f64) -> usize {
        let halvings = (1.0 / device_px_per_film_px.max(1e-6)).log2().floor();
        (halvings.max(0.0) as usize).min(self.levels.len() - 1)
    }
}

/// Means of 2 × 2 pixels; at odd edges of the pixels there are.
fn halved(level: &Level) -> Level {
    let (width, height) = (level.width.div_ceil(2), level.height.div_ceil(2));
    let across = level.width as usize;
    let samples = (0..height as usize)
        .into_par_iter()
        .flat_map_iter(|row| {
            let upper = &level.samples[2 * row * across..][..across];
            let lower_row = (2 * row + 1).min(level.height as usize - 1);
            let lower = &level.samples[lower_row * across..][..across];
            upper.chunks(2).zip(lower.chunks(2)).map(|(a, b)| {
                let sum: u32 = a.iter().chain(b).map(|&s| u32::from(s)).sum();
                (sum / (a.len() + b.len()) as u32) as u16
            })
        })
        .collect();
    Level {
        width,
        height,
        samples,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::film::Polarity;

    fn film(width: u32, height: u32, sample: impl Fn(u32, u32) -> u16) -> Film {
        let samples = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| sample(x, y))
            .collect();
        Film::from_samples(width, height, 16, Polarity::HighIsOpaque, samples).expect("counts fit")
    }

    #[test]
    fn levels_are_means_and_cover_odd_sizes() {
        let pyramid = Pyramid::new(&film(1025, 300, |x, y| (x + y) as u16));
        let second = &pyramid.levels()[1];
        assert_eq!((second.width, second.height), (513, 150));
        // Mean of 0, 1, 1, 2 and of the lone last column 1024, 1025.
        assert_eq!(second.samples[0], 1);
        assert_eq!(second.samples[512], 1024);
        let last = pyramid.levels().last().expect("at least one level");
        assert!(last.width <= SMALLEST_SIDE_PX);
    }

    #[test]
    fn the_level_chosen_has_pixels_no_larger_than_the_devices() {
        let pyramid = Pyramid::new(&film(4096, 64, |_, _| 0));
        assert_eq!(pyramid.level_for(3.0), 0);
        assert_eq!(pyramid.level_for(0.6), 0);
        assert_eq!(pyramid.level_for(0.5), 1);
        assert_eq!(pyramid.level_for(0.26), 1);
        assert_eq!(pyramid.level_for(0.25), 2);
        assert_eq!(pyramid.level_for(0.0), pyramid.levels().len() - 1);
    }
}
