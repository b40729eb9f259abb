//! Local contrast for showing a film: contrast-limited adaptive histogram
//! equalisation. View only.
//!
//! K. Zuiderveld, "Contrast limited adaptive histogram equalization",
//! Graphics Gems IV (1994), 474–485: tile histograms are clipped, what was
//! clipped is spread evenly, and the tiles' mappings are interpolated
//! bilinearly between tile centres.

use rayon::prelude::*;

/// Number of display levels.
const LEVELS: usize = 256;

/// How [`local_contrast`] works.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalContrast {
    /// Tiles across and down, at least 1.
    pub tiles: [u32; 2],
    /// Largest slope of a tile's mapping, relative to no change; 1 leaves the
    /// picture nearly as it is.
    pub clip_limit: f64,
}

impl Default for LocalContrast {
    fn default() -> Self {
        Self {
            tiles: [8, 8],
            clip_limit: 3.0,
        }
    }
}

/// Raises local contrast of an 8-bit, row-major picture of `width_px`
/// columns; a picture that does not fill whole rows comes back unchanged.
pub fn local_contrast(shown: &[u8], width_px: u32, settings: LocalContrast) -> Vec<u8> {
    let width = width_px as usize;
    if width == 0 || shown.is_empty() || !shown.len().is_multiple_of(width) {
        return shown.to_vec();
    }
    let height = shown.len() / width;
    let columns = Tiling::new(width, settings.tiles[0]);
    let rows = Tiling::new(height, settings.tiles[1]);
    let mappings: Vec<[f32; LEVELS]> = (0..rows.count * columns.count)
        .into_par_iter()
        .map(|tile| {
            let (top, bottom) = rows.bounds(tile / columns.count);
            let (left, right) = columns.bounds(tile % columns.count);
            let samples = (top..bottom).flat_map(|y| &shown[y * width + left..y * width + right]);
            equalising_map(samples, settings.clip_limit)
        })
        .collect();

    let across: Vec<Blend> = (0..width).map(|x| columns.blend(x)).collect();
    let mut result = vec![0; shown.len()];
    result
        .par_chunks_exact_mut(width)
        .enumerate()
        .for_each(|(y, line)| {
            let down = rows.blend(y);
            let upper = &mappings[down.first * columns.count..][..columns.count];
            let lower = &mappings[down.second * columns.count..][..columns.count];
            for ((shade, across), &level) in line.iter_mut().zip(&across).zip(&shown[y * width..]) {
                let level = usize::from(level);
                let top = across.mix(upper[across.first][level], upper[across.second][level]);
                let bottom = across.mix(lower[across.first][level], lower[across.second][level]);
                *shade = down.mix(top, bottom).round() as u8;
            }
        });
    result
}

/// Equal tiles along one axis.
struct Tiling {
    length: usize,
    count: usize,
}

/// Two neighbouring tiles and the weight of the second.
struct Blend {
    first: usize,
    second: usize,
    weight: f32,
}

impl Blend {
    fn mix(&self, first: f32, second: f32) -> f32 {
        first + self.weight * (second - first)
    }
}

impl Tiling {
    fn new(length: usize, tiles: u32) -> Self {
        Self {
            length,
            count: (tiles as usize).clamp(1, length),
        }
    }

    fn bounds(&self, tile: usize) -> (usize, usize) {
        (
            tile * self.length / self.count,
            (tile + 1) * self.length / self.count,
        )
    }

    /// The tiles whose centres enclose pixel `at`.
    fn blend(&self, at: usize) -> Blend {
        let place = (at as f64 + 0.5) * self.count as f64 / self.length as f64 - 0.5;
        let place = place.clamp(0.0, (self.count - 1) as f64);
        let first = place.floor() as usize;
        Blend {
            first,
            second: (first + 1).min(self.count - 1),
            weight: (place - first as f64) as f32,
        }
    }
}

/// Cumulative mapping of one tile with its histogram clipped.
fn equalising_map<'a>(samples: impl Iterator<Item = &'a u8>, clip_limit: f64) -> [f32; LEVELS] {
    let mut histogram = [0.0_f64; LEVELS];
    let mut total = 0.0;
    for &sample in samples {
        histogram[usize::from(sample)] += 1.0;
        total += 1.0;
    }
    let limit = clip_limit.max(1.0) * total / LEVELS as f64;
    let mut clipped = 0.0;
    for count in &mut histogram {
        clipped += (*count - limit).max(0.0);
        *count = count.min(limit);
    }
    let share = clipped / LEVELS as f64;
    let mut below = 0.0;
    histogram.map(|count| {
        // The middle of each level's own share keeps a flat tile flat.
        let middle = below + (count + share) / 2.0;
        below += count + share;
        (middle / total * LEVELS as f64 - 0.5).clamp(0.0, 255.0) as f32
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_of_even_histogram_stay_as_they_are() {
        // Every 16 × 16 tile holds each of the 256 levels once.
        let even: Vec<u8> = (0..32 * 32)
            .map(|i| (i / 32 % 16 * 16 + i % 16) as u8)
            .collect();
        let tiles = LocalContrast {
            tiles: [2, 2],
            clip_limit: 3.0,
        };
        assert_eq!(local_contrast(&even, 32, tiles), even);
    }

    #[test]
    fn one_unclipped_tile_is_histogram_equalisation() {
        // A quarter of level 10, three quarters of level 20: each level goes
        // to the middle of its share, 256 · 1/8 − 0.5 and 256 · 5/8 − 0.5.
        let picture = [10, 20, 20, 20].repeat(16);
        let whole = LocalContrast {
            tiles: [1, 1],
            clip_limit: f64::INFINITY,
        };
        let shown = local_contrast(&picture, 8, whole);
        assert_eq!(shown[..4], [32, 160, 160, 160]);
    }

    #[test]
    fn clip_limit_bounds_the_slope() {
        // All samples at two neighbouring levels: unclipped they would part
        // by 128, clipped at 3 their histogram bins hold 3/256 each.
        let samples: Vec<u8> = [100, 101].repeat(512);
        let map = equalising_map(samples.iter(), 3.0);
        assert!(map[101] - map[100] > 1.0);
        assert!(map[101] - map[100] <= 4.0);
        assert!(map.windows(2).all(|pair| pair[0] <= pair[1]));
    }

    #[test]
    fn odd_sizes_do_not_break_it() {
        let settings = LocalContrast::default();
        assert!(local_contrast(&[], 0, settings).is_empty());
        assert_eq!(local_contrast(&[1, 2, 3], 2, settings), [1, 2, 3]);
        assert_eq!(local_contrast(&[9; 3], 3, settings).len(), 3);
    }
}
