//! Noise of a film and its correlation, and what it lets a place be known to.

use serde::Serialize;

use super::grid::Grid;

/// Noise of means over k × k px, k = 1, 2, 4, in shares of the range from black
/// to white, each scaled to one pixel by k: equal where the noise is white.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FilmNoise {
    /// k · σ̂ₖ.
    pub scaled: [f64; 3],
    /// Noise of neighbouring pixels is not independent: the film was smoothed
    /// or resampled, or structure rules it (σ̂₂/σ̂₁ above 0.65; 0.5 where
    /// white).
    pub correlated: bool,
    /// Standard deviation of independent noise per pixel that a canal, 5–12 px
    /// wide, meets: k · σ̂ₖ at k = 4 where correlated, else at k = 1.
    pub effective: f64,
}

/// σ̂₂/σ̂₁ above this is no white noise, where it is 0.5 (derived: white noise
/// blurred by 0.5 px gives 0.81).
const CORRELATED: f64 = 0.65;

/// Standard deviation of the noise of `raster` by Immerkær's mask (Comput Vis
/// Image Underst 64:300–2, 1996), interior cells only; 0 for fewer than 3 × 3.
///
/// The mask [1 −2 1; −2 4 −2; 1 −2 1] is blind to what is a sum of a function
/// of the column, one of the row, and a product of both.
pub fn immerkaer(raster: &Grid) -> f64 {
    let (width, height) = (raster.width, raster.height);
    if width < 3 || height < 3 {
        return 0.0;
    }
    let mut sum = 0.0f64;
    for y in 1..height - 1 {
        let [above, here, below] = [y - 1, y, y + 1].map(|y| raster.row(y));
        for x in 1..width - 1 {
            let second = |row: &[f32]| {
                f64::from(row[x - 1]) - 2.0 * f64::from(row[x]) + f64::from(row[x + 1])
            };
            sum += (second(above) - 2.0 * second(here) + second(below)).abs();
        }
    }
    let count = ((width - 2) * (height - 2)) as f64;
    (std::f64::consts::PI / 2.0).sqrt() * sum / (6.0 * count)
}

/// Means over `k` × `k` cells; what is left over at the right and below is
/// dropped. `None` where nothing is left.
fn means(raster: &Grid, k: usize) -> Option<Grid> {
    let (width, height) = (raster.width / k, raster.height / k);
    let values = (0..width * height)
        .map(|i| {
            let (x, y) = (i % width * k, i / width * k);
            let block = (0..k).flat_map(|dy| &raster.row(y + dy)[x..x + k]);
            block.sum::<f32>() / (k * k) as f32
        })
        .collect();
    (width * height > 0).then_some(Grid {
        width,
        height,
        values,
    })
}

/// The noise of a smooth part of a film.
pub fn film_noise(raster: &Grid) -> FilmNoise {
    let scaled = [1usize, 2, 4].map(|k| {
        let sigma = means(raster, k).map_or(0.0, |thin| immerkaer(&thin));
        k as f64 * sigma
    });
    // σ̂₂/σ̂₁, from the scaled values.
    let ratio = 0.5 * scaled[1] / scaled[0].max(1e-12);
    let correlated = ratio > CORRELATED;
    FilmNoise {
        scaled,
        correlated,
        effective: if correlated { scaled[2] } else { scaled[0] },
    }
}

/// Standard uncertainty of the place of an edge (step `contrast`, blur σ
/// `blur_px`) in noise of `noise` per pixel, averaged over `rows`: px
/// (Cramér–Rao bound of a profile of pixel pitch 1).
pub fn edge_uncertainty_px(contrast: f64, blur_px: f64, noise: f64, rows: f64) -> f64 {
    let root_pi = std::f64::consts::PI.sqrt();
    noise / contrast * (2.0 * root_pi * blur_px).sqrt() / rows.sqrt()
}

/// The same for a ridge with a Gaussian profile of σ `width_px`.
pub fn ridge_uncertainty_px(contrast: f64, width_px: f64, noise: f64, rows: f64) -> f64 {
    let root_pi = std::f64::consts::PI.sqrt();
    noise / contrast * (2.0 * width_px / root_pi).sqrt() / rows.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster(width: usize, height: usize, value: impl Fn(usize, usize) -> f64) -> Grid {
        let values = (0..width * height)
            .map(|i| value(i % width, i / width) as f32)
            .collect();
        Grid {
            width,
            height,
            values,
        }
    }

    /// Exact values of the mask (derived).
    #[test]
    fn immerkaer_of_closed_forms() {
        let blind = raster(16, 16, |x, y| {
            let (x, y) = (x as f64, y as f64);
            0.01 * x.powi(3) + y * y + x * y
        });
        assert!(immerkaer(&blind) < 1e-3);
        let product = raster(16, 16, |x, y| ((x * x) * (y * y)) as f64);
        assert!((immerkaer(&product) - 0.835_542_758_2).abs() < 1e-6);
        let board = raster(
            16,
            16,
            |x, y| if (x + y).is_multiple_of(2) { 1.0 } else { -1.0 },
        );
        assert!((immerkaer(&board) - 3.342_171_032_8).abs() < 1e-6);
        let point = raster(5, 5, |x, y| f64::from(u8::from((x, y) == (2, 2))));
        assert!((immerkaer(&point) - 0.371_352_337_0).abs() < 1e-6);
    }

    /// Noise that another program finds too: a linear congruential generator
    /// (s ← 1664525 s + 1013904223 mod 2³², s >> 24), seed 1, 64 × 64 (derived).
    #[test]
    fn immerkaer_of_a_known_sequence() {
        let mut state = 1u32;
        let values: Vec<f32> = (0..64 * 64)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 24) as f32
            })
            .collect();
        assert_eq!(values[..4], [60.0, 94.0, 129.0, 180.0]);
        let raster = Grid {
            width: 64,
            height: 64,
            values,
        };
        assert!((immerkaer(&raster) - 75.359_153).abs() < 1e-4);
    }

    /// Bounds that a maximum-likelihood Monte Carlo confirms (derived).
    #[test]
    fn place_uncertainties_by_cramer_and_rao() {
        for (contrast, blur, noise, edge, ridge) in [
            (40.0, 1.5, 4.0, 0.230_59, 0.130_10),
            (100.0, 1.0, 2.0, 0.037_66, 0.021_25),
            (20.0, 2.0, 5.0, 0.665_67, 0.375_56),
        ] {
            assert!((edge_uncertainty_px(contrast, blur, noise, 1.0) - edge).abs() < 1e-5);
            assert!((ridge_uncertainty_px(contrast, blur, noise, 1.0) - ridge).abs() < 1e-5);
        }
    }

    /// White noise is called white, blurred noise is not.
    #[test]
    fn smoothing_is_noticed() {
        let mut state = 7u32;
        let mut uniform = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1u32 << 24)
        };
        let white: Vec<f64> = (0..256 * 256).map(|_| uniform()).collect();
        let at = |x: usize, y: usize| white[y % 256 * 256 + x % 256];
        let plain = raster(256, 256, at);
        assert!(!film_noise(&plain).correlated);
        let smooth = raster(256, 256, |x, y| {
            (0..3)
                .flat_map(|j| (0..3).map(move |i| (i, j)))
                .map(|(i, j)| [1.0, 2.0, 1.0][i] * [1.0, 2.0, 1.0][j] * at(x + i, y + j))
                .sum::<f64>()
                / 16.0
        });
        assert!(film_noise(&smooth).correlated);
    }
}
