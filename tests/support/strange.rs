//! Films made strange: phantom films changed in ways that neither the phantom
//! nor the reader's training knows, with the places of the new film.
//!
//! There are two sets with no kind of change in common: confidences are fitted
//! on the first and checked on the second.

use lengthfilm::film::{Film, Polarity};
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Which changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Changes {
    None,
    /// Blur, smooth noise of all scales, tone curves, resampling, sharpening,
    /// warps, double exposure, levelling.
    Fitting,
    /// Smear, blocks of cosines, equalised levels, dropped samples, hum and
    /// drifting lines, shear and fisheye, shading, veils, swollen grey.
    Check,
}

/// Opacity 0..=1, row by row.
#[derive(Clone)]
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

/// A strange film and how places of the old one move onto it.
pub struct Strange {
    pub film: Film,
    /// Names of the changes, in order.
    pub changes: Vec<&'static str>,
    warps: Vec<Warp>,
    /// Warps before a double exposure.
    doubled_after: Vec<usize>,
}

/// new(x) = old(x + shift(x)); px.
struct Warp(Box<dyn Fn([f64; 2]) -> [f64; 2] + Send + Sync>);

impl Strange {
    /// Where a place of the old film lies on this one.
    pub fn place(&self, p: FilmPoint) -> FilmPoint {
        self.moved(p, 0)
    }

    /// Where a place of the other film of double exposures lies on this one.
    pub fn places_of_other(&self, p: FilmPoint, other: &Film) -> Vec<FilmPoint> {
        let share = |at: f64, of: u32, to: u32| f64::from(to) * (1.0 - at / f64::from(of));
        let turned = FilmPoint::new(
            share(p.x, other.width_px(), self.film.width_px()),
            share(p.y, other.height_px(), self.film.height_px()),
        );
        let after = self.doubled_after.iter();
        after.map(|&warps| self.moved(turned, warps)).collect()
    }

    fn moved(&self, p: FilmPoint, first_warp: usize) -> FilmPoint {
        let mut at = [p.x, p.y];
        for warp in &self.warps[first_warp..] {
            let goal = at;
            for _ in 0..30 {
                let shift = (warp.0)(at);
                at = [goal[0] - shift[0], goal[1] - shift[1]];
            }
        }
        FilmPoint::new(at[0], at[1])
    }
}

impl Picture {
    pub fn of(film: &Film) -> Self {
        let full = f32::from(film.max_sample());
        let opaque = film.polarity() == Polarity::HighIsOpaque;
        Self {
            width: film.width_px() as usize,
            height: film.height_px() as usize,
            values: (film.samples().iter())
                .map(|v| f32::from(*v) / full)
                .map(|v| if opaque { v } else { 1.0 - v })
                .collect(),
        }
    }

    fn film(&self, bits: u8) -> Film {
        let full = f32::from(u16::MAX >> (16 - bits));
        let samples = self
            .values
            .iter()
            .map(|v| (v.clamp(0.0, 1.0) * full).round() as u16);
        let (width, height) = (self.width as u32, self.height as u32);
        Film::from_samples(
            width,
            height,
            bits,
            Polarity::HighIsOpaque,
            samples.collect(),
        )
        .expect("as many samples as cells")
    }

    fn at(&self, x: f64, y: f64) -> f32 {
        let x = (x - 0.5).clamp(0.0, (self.width - 1) as f64);
        let y = (y - 0.5).clamp(0.0, (self.height - 1) as f64);
        let (a, b) = (x as usize, y as usize);
        let (c, d) = ((a + 1).min(self.width - 1), (b + 1).min(self.height - 1));
        let (fx, fy) = (x.fract() as f32, y.fract() as f32);
        let v = |x: usize, y: usize| self.values[y * self.width + x];
        let top = v(a, b) + fx * (v(c, b) - v(a, b));
        let low = v(a, d) + fx * (v(c, d) - v(a, d));
        top + fy * (low - top)
    }

    fn from_fn(width: usize, height: usize, f: impl Fn(f64, f64) -> f32) -> Self {
        let value = |i: usize| f((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
        Self {
            width,
            height,
            values: (0..width * height).map(value).collect(),
        }
    }

    fn map(&mut self, f: impl Fn(f32) -> f32) {
        self.values.iter_mut().for_each(|v| *v = f(*v));
    }

    fn resized(&self, width: usize, height: usize) -> Self {
        let (sx, sy) = (
            self.width as f64 / width as f64,
            self.height as f64 / height as f64,
        );
        let mut thin = self.clone();
        if sx > 1.5 {
            thin = thin.blurred(0.4 * sx);
        }
        Self::from_fn(width, height, |x, y| thin.at(x * sx, y * sy))
    }

    /// Three running means, together about a Gaussian of `sigma` px.
    pub fn blurred(&self, sigma: f64) -> Self {
        let half = ((4.0 * sigma * sigma + 1.0).sqrt() * 0.5).round().max(1.0) as usize;
        let mut out = self.clone();
        for _ in 0..3 {
            out = out.running_means(half, 0);
            out = out.running_means(0, half);
        }
        out
    }

    fn running_means(&self, half_x: usize, half_y: usize) -> Self {
        let mut out = self.clone();
        let (along, lines, half) = if half_x > 0 {
            (self.width, self.height, half_x)
        } else {
            (self.height, self.width, half_y)
        };
        let index = |line: usize, i: usize| {
            if half_x > 0 {
                line * self.width + i
            } else {
                i * self.width + line
            }
        };
        for line in 0..lines {
            let value =
                |i: isize| self.values[index(line, i.clamp(0, along as isize - 1) as usize)];
            let half = half as isize;
            let mut sum: f32 = (-half..=half).map(value).sum();
            for i in 0..along as isize {
                out.values[index(line, i as usize)] = sum / (2 * half + 1) as f32;
                sum += value(i + half + 1) - value(i - half);
            }
        }
        out
    }

    /// The 5th and 95th percentile.
    fn levels(&self) -> [f32; 2] {
        let mut sorted: Vec<f32> = self.values.iter().copied().step_by(31).collect();
        sorted.sort_by(f32::total_cmp);
        [0.05, 0.95].map(|share| sorted[(share * (sorted.len() - 1) as f64) as usize])
    }

    fn add(&mut self, other: &Self, gain: f32) {
        let pairs = self.values.iter_mut().zip(&other.values);
        pairs.for_each(|(v, o)| *v += gain * o);
    }

    /// White noise of deviation 1.
    fn noise(width: usize, height: usize, rng: &mut ChaCha8Rng) -> Self {
        // A sum of four uniform numbers has a third of a deviation of one.
        let mut value = || (0..4).map(|_| rng.random_range(-0.866..0.866f32)).sum();
        Self {
            width,
            height,
            values: (0..width * height).map(|_| value()).collect(),
        }
    }

    /// Smooth noise of `scale` px, deviation 1.
    fn smooth_noise(&self, scale: f64, rng: &mut ChaCha8Rng) -> Self {
        let thin = (scale / 2.0).floor().max(1.0);
        let (w, h) = (
            (self.width as f64 / thin).ceil() as usize + 2,
            (self.height as f64 / thin).ceil() as usize + 2,
        );
        let coarse = Self::noise(w, h, rng).blurred(scale / thin);
        let count = coarse.values.len() as f32;
        let rms = (coarse.values.iter().map(|v| v * v).sum::<f32>() / count).sqrt();
        Self::from_fn(self.width, self.height, |x, y| {
            coarse.at(x / thin + 0.5, y / thin + 0.5) / rms.max(1e-6)
        })
    }

    fn warped(&self, warp: &Warp) -> Self {
        Self::from_fn(self.width, self.height, |x, y| {
            let [dx, dy] = (warp.0)([x, y]);
            self.at(x + dx, y + dy)
        })
    }
}

/// A film changed in one to three ways. `other`: the film of a double exposure.
pub fn strange(film: &Film, other: &Film, mm_per_px: f64, changes: Changes, seed: u64) -> Strange {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x57A);
    let mut picture = Picture::of(film);
    let mut out = Strange {
        film: film.clone(),
        changes: Vec::new(),
        warps: Vec::new(),
        doubled_after: Vec::new(),
    };
    if changes == Changes::None {
        return out;
    }
    let count = [1, 1, 2, 2, 3][rng.random_range(0..5)];
    for _ in 0..count {
        let (name, warp) = match changes {
            Changes::Fitting => fitting(&mut picture, other, 1.0 / mm_per_px, &mut rng),
            _ => check(&mut picture, 1.0 / mm_per_px, &mut rng),
        };
        out.changes.push(name);
        if name == "double exposure" {
            out.doubled_after.push(out.warps.len());
        }
        if let Some(warp) = warp {
            picture = picture.warped(&warp);
            out.warps.push(warp);
        }
    }
    out.film = picture.film(if rng.random_bool(0.5) { 8 } else { 12 });
    out
}

type Change = (&'static str, Option<Warp>);

fn fitting(p: &mut Picture, other: &Film, px_per_mm: f64, rng: &mut ChaCha8Rng) -> Change {
    let [low, high] = p.levels();
    let range = (high - low).max(0.05);
    match rng.random_range(0..8) {
        0 => {
            *p = p.blurred(rng.random_range(0.06..0.35) * px_per_mm);
            ("blur", None)
        }
        1 => {
            let strength = range * rng.random_range(0.01..0.10f32);
            for octave in 0..6 {
                let scale = 0.06 * 2.0f64.powi(octave) * px_per_mm;
                let field = p.smooth_noise(scale, rng);
                p.add(&field, 0.5 * strength);
            }
            ("noise of all scales", None)
        }
        2 => {
            let gamma = rng.random_range(-1.1..1.1f32).exp();
            let steep = rng.random_range(0.0..9.0f32);
            p.map(|v| {
                let t = ((v - low) / range).clamp(0.0, 1.0).powf(gamma);
                let s = |t: f32| 1.0 / (1.0 + (-steep * (t - 0.5)).exp());
                if steep < 0.5 {
                    t
                } else {
                    (s(t) - s(0.0)) / (s(1.0) - s(0.0))
                }
            });
            ("tone", None)
        }
        3 => {
            let (w, h) = (rng.random_range(220..640), rng.random_range(220..640));
            *p = p.resized(w, h).resized(p.width, p.height);
            ("resampled", None)
        }
        4 => {
            let soft = p.blurred(rng.random_range(0.1..0.5) * px_per_mm);
            let share = rng.random_range(0.5..4.0);
            let own = p.clone();
            p.add(&own, share);
            p.add(&soft, -share);
            ("sharpened", None)
        }
        5 => {
            let waves: Vec<[f64; 5]> = (0..4)
                .map(|_| {
                    let wave = rng.random_range(9.0..30.0) * px_per_mm;
                    let turn = rng.random_range(0.0..std::f64::consts::TAU);
                    let size = rng.random_range(0.02..0.06) * wave;
                    let k = std::f64::consts::TAU / wave;
                    let phase = rng.random_range(0.0..std::f64::consts::TAU);
                    let to = rng.random_range(0.0..std::f64::consts::TAU);
                    [
                        k * turn.cos(),
                        k * turn.sin(),
                        phase,
                        size * to.cos(),
                        size * to.sin(),
                    ]
                })
                .collect();
            let warp = Warp(Box::new(move |[x, y]| {
                let mut shift = [0.0; 2];
                for [kx, ky, phase, sx, sy] in &waves {
                    let value = (kx * x + ky * y + phase).sin();
                    shift[0] += sx * value;
                    shift[1] += sy * value;
                }
                shift
            }));
            ("warped", Some(warp))
        }
        6 => {
            let other = Picture::of(other).resized(p.width, p.height);
            let share = rng.random_range(0.1..0.5f32);
            p.map(|v| v * (1.0 - share));
            let turned = Picture::from_fn(p.width, p.height, |x, y| {
                other.at(p.width as f64 - x, p.height as f64 - y)
            });
            p.add(&turned, share);
            ("double exposure", None)
        }
        _ => {
            let broad = p.blurred(rng.random_range(1.5..5.0) * px_per_mm);
            let share = rng.random_range(0.5..1.0);
            p.add(&broad, -share);
            let [low, high] = p.levels();
            let gain = 0.6 / (high - low).max(0.02);
            p.map(|v| 0.2 + gain * (v - low));
            ("levelled", None)
        }
    }
}

fn check(p: &mut Picture, px_per_mm: f64, rng: &mut ChaCha8Rng) -> Change {
    let [low, high] = p.levels();
    let range = (high - low).max(0.05);
    let (width, height) = (p.width as f64, p.height as f64);
    match rng.random_range(0..9) {
        0 => {
            let half = (rng.random_range(0.1..0.5) * px_per_mm).max(1.0) as usize;
            let across = rng.random_bool(0.5);
            *p = p.running_means(half * usize::from(across), half * usize::from(!across));
            ("smeared", None)
        }
        1 => {
            let step = range * rng.random_range(0.05..0.35f32);
            cosine_blocks(p, step);
            ("cosine blocks", None)
        }
        2 => {
            let mut sorted: Vec<f32> = p.values.iter().copied().step_by(17).collect();
            sorted.sort_by(f32::total_cmp);
            let share = rng.random_range(0.4..1.0f32);
            p.map(|v| {
                let rank = sorted.partition_point(|s| *s < v) as f32 / sorted.len() as f32;
                v + share * (rank - v)
            });
            ("equalised", None)
        }
        3 => {
            let step = (rng.random_range(0.08..0.22) * px_per_mm).max(2.0).floor();
            let own = p.clone();
            *p = Picture::from_fn(p.width, p.height, |x, y| {
                let cell = |v: f64| ((v / step).floor() * step + 0.5) as usize;
                own.values[cell(y) * own.width + cell(x)]
            });
            ("dropped samples", None)
        }
        4 => {
            let hum = range * rng.random_range(0.0..0.06f32);
            let wave = rng.random_range(0.3..2.0) * px_per_mm;
            let mut drift = 0.0f32;
            let strength = range * rng.random_range(0.005..0.03f32);
            for y in 0..p.height {
                drift = 0.9 * drift + strength * rng.random_range(-1.0..1.0f32);
                let row = &mut p.values[y * p.width..][..p.width];
                for (x, v) in row.iter_mut().enumerate() {
                    let angle = std::f64::consts::TAU * (x as f64 + 0.4 * y as f64) / wave;
                    *v += drift + hum * angle.sin() as f32;
                }
            }
            ("hum and drifting lines", None)
        }
        5 => {
            let shear = [rng.random_range(-0.2..0.2), rng.random_range(-0.2..0.2)];
            let bulge = rng.random_range(-0.25..0.25);
            let scale = (0.5 * width).hypot(0.5 * height);
            let warp = Warp(Box::new(move |[x, y]| {
                let (u, v) = (x - 0.5 * width, y - 0.5 * height);
                let r2 = (u * u + v * v) / (scale * scale);
                [shear[0] * v + bulge * r2 * u, shear[1] * u + bulge * r2 * v]
            }));
            ("sheared", Some(warp))
        }
        6 => {
            let turn = rng.random_range(0.0..std::f64::consts::TAU);
            let slope = range * rng.random_range(0.3..1.2f32);
            let own = p.clone();
            *p = Picture::from_fn(p.width, p.height, |x, y| {
                let (u, v) = (x / width - 0.5, y / height - 0.5);
                let shade = (u * turn.cos() + v * turn.sin() - 0.8 * (u * u + v * v)) as f32;
                own.at(x, y) + slope * shade
            });
            ("shaded", None)
        }
        7 => {
            let mut veil = p.smooth_noise(rng.random_range(1.0..3.0) * px_per_mm, rng);
            veil.map(|v| (3.0 * v).tanh());
            let strength = range * rng.random_range(0.05..0.25f32);
            p.add(&veil, strength);
            ("veils", None)
        }
        _ => {
            let reach = (rng.random_range(0.04..0.15) * px_per_mm).max(1.0) as usize;
            let most = rng.random_bool(0.5);
            swollen(p, reach, most);
            ("swollen grey", None)
        }
    }
}

/// Every 8 × 8 block of px rounded in the cosine transform (ITU-T T.81 A.3.3),
/// coarser for finer waves.
fn cosine_blocks(p: &mut Picture, step: f32) {
    let wave = |k: usize, i: usize| {
        let size = if k == 0 { 0.125f32.sqrt() } else { 0.5 };
        size * ((2 * i + 1) as f32 * k as f32 * std::f32::consts::PI / 16.0).cos()
    };
    let table: Vec<f32> = (0..64).map(|j| wave(j / 8, j % 8)).collect();
    for by in 0..p.height / 8 {
        for bx in 0..p.width / 8 {
            let at = |i: usize, j: usize| (8 * by + j) * p.width + 8 * bx + i;
            let mut sums = [0.0f32; 64];
            for (v, row) in sums.chunks_mut(8).enumerate() {
                for (u, sum) in row.iter_mut().enumerate() {
                    for j in 0..8 {
                        for i in 0..8 {
                            *sum += table[8 * u + i] * table[8 * v + j] * p.values[at(i, j)];
                        }
                    }
                    let coarse = step * (1.0 + 0.4 * (u + v) as f32);
                    *sum = if u + v == 0 {
                        *sum
                    } else {
                        (*sum / coarse).round() * coarse
                    };
                }
            }
            for j in 0..8 {
                for i in 0..8 {
                    let waves =
                        (0..64).map(|k| table[8 * (k % 8) + i] * table[8 * (k / 8) + j] * sums[k]);
                    p.values[at(i, j)] = waves.sum();
                }
            }
        }
    }
}

/// The largest (or smallest) value within `reach` px along rows and columns.
fn swollen(p: &mut Picture, reach: usize, most: bool) {
    let pick = |a: f32, b: f32| if most { a.max(b) } else { a.min(b) };
    for columns in [false, true] {
        let own = p.clone();
        let (width, height) = (p.width, p.height);
        for y in 0..height {
            for x in 0..width {
                let around = |d: isize| {
                    let (x, y) = if columns {
                        (x as isize, (y as isize + d).clamp(0, height as isize - 1))
                    } else {
                        ((x as isize + d).clamp(0, width as isize - 1), y as isize)
                    };
                    own.values[y as usize * width + x as usize]
                };
                let reach = reach as isize;
                p.values[y * width + x] = (-reach..=reach).map(around).reduce(pick).unwrap_or(0.0);
            }
        }
    }
}
