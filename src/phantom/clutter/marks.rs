//! Marks of use on the finished picture: scratches, dust, letters, a ruler
//! burned in by the software.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Marks by number; drawn from their own seed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct MarkSpec {
    /// Seed of their places.
    pub seed: u64,
    /// Scratches and creases.
    pub scratches: u16,
    /// Grains of dust.
    pub dust: u16,
    /// Burned-in letters.
    pub letters: u16,
    /// A burned-in ruler along one edge.
    pub ruler: bool,
}

/// Five rows of five cells of a few letters and digits.
const LETTERS: [[u8; 5]; 6] = [
    [0b10000, 0b10000, 0b10000, 0b10000, 0b11111],
    [0b11110, 0b10001, 0b11110, 0b10010, 0b10001],
    [0b00100, 0b01010, 0b10001, 0b11111, 0b10001],
    [0b11111, 0b00010, 0b00100, 0b01000, 0b11111],
    [0b01110, 0b10001, 0b01110, 0b10001, 0b01110],
    [0b00100, 0b01100, 0b00100, 0b00100, 0b01110],
];

/// Draws the marks into `grey` (0 black to 1 white), `width` columns of
/// `pitch_mm`.
pub(in crate::phantom) fn draw_marks(
    marks: &MarkSpec,
    grey: &mut [f32],
    width: usize,
    pitch_mm: f64,
) {
    let height = grey.len() / width;
    let mut rng = ChaCha8Rng::seed_from_u64(marks.seed);
    let px = |mm: f64| mm / pitch_mm;
    let mut blend = |x: f64, y: f64, radius: f64, level: f32, share: f32| {
        let reach = radius.ceil() as i64 + 1;
        for j in -reach..=reach {
            for i in -reach..=reach {
                let (cx, cy) = (x as i64 + i, y as i64 + j);
                if cx < 0 || cy < 0 || cx >= width as i64 || cy >= height as i64 {
                    continue;
                }
                let d = (cx as f64 + 0.5 - x).hypot(cy as f64 + 0.5 - y);
                let inside = (radius + 0.5 - d).clamp(0.0, 1.0) as f32 * share;
                let value = &mut grey[cy as usize * width + cx as usize];
                *value += inside * (level - *value);
            }
        }
    };
    let (w, h) = (width as f64, height as f64);
    for _ in 0..marks.scratches {
        let (mut x, mut y) = (rng.random_range(0.0..w), rng.random_range(0.0..h));
        let mut heading: f64 = rng.random_range(0.0..std::f64::consts::TAU);
        let bend = rng.random_range(-0.03..0.03);
        let length = px(rng.random_range(0.8..9.0));
        let radius = px(rng.random_range(0.02..0.09)).max(0.5);
        let level = if rng.random_range(0.0..1.0) < 0.8 {
            0.95
        } else {
            0.05
        };
        let share = rng.random_range(0.25..0.9);
        let step = radius.max(1.0);
        for _ in 0..(length / step) as usize {
            blend(x, y, radius, level, share * 0.6);
            heading += bend * step * pitch_mm * 10.0;
            x += step * heading.cos();
            y += step * heading.sin();
        }
    }
    for _ in 0..marks.dust {
        let (x, y) = (rng.random_range(0.0..w), rng.random_range(0.0..h));
        let radius = px(rng.random_range(0.03..0.25)).max(0.5);
        let level = rng.random_range(0.7..1.0);
        for _ in 0..rng.random_range(1..4) {
            let off = px(0.15);
            let (dx, dy) = (rng.random_range(-off..off), rng.random_range(-off..off));
            blend(x + dx, y + dy, radius, level, 0.8);
        }
    }
    for _ in 0..marks.letters {
        let cell = px(rng.random_range(0.25..0.6));
        let (x0, y0) = (
            rng.random_range(0.02..0.85) * w,
            rng.random_range(0.02..0.9) * h,
        );
        let letter = LETTERS[rng.random_range(0..LETTERS.len())];
        for (row, bits) in letter.iter().enumerate() {
            for column in 0..5 {
                if bits >> (4 - column) & 1 == 1 {
                    let (x, y) = (x0 + column as f64 * cell, y0 + row as f64 * cell);
                    blend(x, y, 0.55 * cell, 1.0, 1.0);
                }
            }
        }
    }
    if marks.ruler {
        let upright = rng.random_range(0.0..1.0) < 0.7;
        let edge = px(rng.random_range(0.4..1.5));
        let start = rng.random_range(0.2..0.5);
        let mm = px(1.0);
        let at = |along: f64, across: f64| {
            if upright {
                (w - edge - across, start * h + along)
            } else {
                (start * w + along, h - edge - across)
            }
        };
        for k in 0..=(10.0 * mm) as usize {
            let (x, y) = at(k as f64, 0.0);
            blend(x, y, 0.6, 0.85, 1.0);
        }
        for tick in 0..=10 {
            let long = if tick % 5 == 0 { 0.6 } else { 0.35 };
            for k in 0..=(long * mm) as usize {
                let (x, y) = at(f64::from(tick) * mm, k as f64);
                blend(x, y, 0.6, 0.85, 1.0);
            }
        }
    }
}
