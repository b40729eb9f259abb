//! Blur of the sharpest edges: the smallest σ of an error-function edge that
//! the film shows.

use statrs::function::erf::erf_inv;

use super::grid::Grid;

/// Edges looked at: this share of the steepest ones.
const STEEPEST: f64 = 0.002;
/// Fewer edges than this tell nothing.
const LEAST_EDGES: usize = 50;
/// The greatest share of a step that lies within two pixels: a σ of 0.3 px,
/// sharper than a film of pixels can show.
const SHARPEST: f64 = 0.999;
/// An edge is followed to both sides this far, px.
const REACH: usize = 12;

/// Blur σ, px, from the steepest edges along rows and columns: of an edge of
/// step A and blur σ the steepest rise over two pixels is A·erf(1/(σ√2))
/// (closed form). `None`
/// where the film has no clear edge: its steps must exceed the noise `noise`
/// (share of the range, per px) ten times.
pub fn edge_blur_px(grid: &Grid, noise: f64) -> Option<f64> {
    let (width, height) = (grid.width, grid.height);
    if width < 4 * REACH || height < 4 * REACH {
        return None;
    }
    // Slope along the row, steepest in its surroundings.
    let mut edges: Vec<(f32, usize, usize)> = Vec::new();
    for y in (REACH..height - REACH).step_by(3) {
        let row = grid.row(y);
        for x in REACH..width - REACH {
            let slope = |x: usize| (row[x + 1] - row[x - 1]).abs();
            let here = slope(x);
            let across = (grid.row(y + 1)[x] - grid.row(y - 1)[x]).abs();
            let steepest = here > slope(x - 1) && here >= slope(x + 1) && here > 3.0 * across;
            if steepest {
                edges.push((0.5 * here, x, y));
            }
        }
    }
    edges.sort_by(|a, b| b.0.total_cmp(&a.0));
    let count = ((edges.len() as f64 * STEEPEST) as usize).max(LEAST_EDGES);
    let mut sigmas: Vec<f64> = edges
        .iter()
        .take(count)
        .filter_map(|&(slope, x, y)| {
            let row = grid.row(y);
            let rising = row[x + 1] > row[x - 1];
            // The levels where the edge stops rising on both sides.
            let level = |step: isize| {
                let up = rising == (step > 0);
                let mut at = x;
                for _ in 0..REACH {
                    let next = at.saturating_add_signed(step);
                    let goes_on = if up {
                        row[next] > row[at]
                    } else {
                        row[next] < row[at]
                    };
                    if !goes_on {
                        break;
                    }
                    at = next;
                }
                f64::from(row[at])
            };
            let step = (level(1) - level(-1)).abs();
            let clear = step > 10.0 * noise && step > 0.02;
            let share = (2.0 * f64::from(slope) / step).min(SHARPEST);
            let sigma = 1.0 / (std::f64::consts::SQRT_2 * erf_inv(share));
            clear.then_some(sigma)
        })
        .collect();
    if sigmas.len() < LEAST_EDGES / 2 {
        return None;
    }
    let middle = sigmas.len() / 2;
    let (_, &mut sigma, _) = sigmas.select_nth_unstable_by(middle, f64::total_cmp);
    Some(sigma)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An upright edge of the error function: σ within a tenth, from 1 px on.
    #[test]
    fn the_blur_of_an_edge_is_found() {
        for sigma in [1.0f64, 1.5, 2.5] {
            let (width, height) = (128, 128);
            let values = (0..width * height)
                .map(|i| {
                    let x = (i % width) as f64 - 63.7;
                    let edge = statrs::function::erf::erf(x / (std::f64::consts::SQRT_2 * sigma));
                    (0.5 + 0.3 * edge) as f32
                })
                .collect();
            let grid = Grid {
                width,
                height,
                values,
            };
            let found = edge_blur_px(&grid, 0.001).unwrap();
            assert!((found / sigma - 1.0).abs() < 0.1, "{found} for {sigma}");
        }
    }
}
