//! Films and what is true of them, as raw arrays for training the film reader
//! (`tests/scripts/train_reader.py`):
//!
//! ```text
//! cargo run --release --no-default-features --example assist_films -- FOLDER --films 4000
//! ```
//!
//! Writes `films.i16` (opacity × 32767 on cells of 0.05 mm), `truth.u8` (what
//! the reader should say on cells of 0.1 mm, × 255) and `sizes.u16` (width and
//! height of each film in cells of 0.1 mm). Only films of the tuning set.

use std::io::Write;
use std::path::PathBuf;

use clap::Parser;
use lengthfilm::assist::reader::{CELL_MM, film_cells};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, Truth, render};
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Side of the arrays, cells of 0.1 mm: 41.6 mm.
const SIDE: usize = 416;
/// File line, tip, stop, apex, canal line; then where nothing is known.
const MAPS: usize = 6;
/// Seeds of the training films; the tuning films of the quality table lie
/// elsewhere.
const FIRST_SEED: u64 = 400_000_000;

#[derive(Parser)]
struct Arguments {
    folder: PathBuf,
    #[arg(long, default_value_t = 4000)]
    films: u64,
    #[arg(long, default_value_t = 0)]
    skip: u64,
}

struct Sample {
    film: Vec<i16>,
    truth: Vec<u8>,
    size: [u16; 2],
}

/// Raises `map` to a Gaussian of `sigma` cells about `centre` (cells).
fn stamp(map: &mut [u8], centre: (f64, f64), sigma: f64) {
    let reach = (3.0 * sigma).ceil() as i64 + 1;
    let (cx, cy) = (centre.0 as i64, centre.1 as i64);
    for y in cy - reach..=cy + reach {
        for x in cx - reach..=cx + reach {
            if (0..SIDE as i64).contains(&x) && (0..SIDE as i64).contains(&y) {
                let (dx, dy) = (x as f64 + 0.5 - centre.0, y as f64 + 0.5 - centre.1);
                let value = 255.0 * (-0.5 * (dx * dx + dy * dy) / (sigma * sigma)).exp();
                let cell = &mut map[y as usize * SIDE + x as usize];
                *cell = (*cell).max(value as u8);
            }
        }
    }
}

fn truth_maps(truth: &Truth, cell_px: f64) -> Vec<u8> {
    let mut maps = vec![0u8; MAPS * SIDE * SIDE];
    let cells = |p: FilmPoint| (p.x / cell_px, p.y / cell_px);
    let mut put = |map: usize, p: FilmPoint, sigma: f64| {
        stamp(
            &mut maps[map * SIDE * SIDE..][..SIDE * SIDE],
            cells(p),
            sigma,
        );
    };
    let mut line = |map: usize, points: &[FilmPoint]| {
        for &p in points {
            put(map, p, 1.0);
        }
    };
    let mut files = Vec::new();
    if let Some(file) = &truth.file {
        files.push((
            &file.centre_line_px,
            file.tip_px,
            file.tip_visible,
            file.stop_px,
            file.stop_visible_share,
        ));
    }
    for file in &truth.second_files {
        files.push((
            &file.centre_line_px,
            file.tip_px,
            file.tip_visible,
            file.stop_px,
            file.stop_visible_share,
        ));
        line(4, &file.canal_px);
    }
    for (points, ..) in &files {
        line(0, points);
    }
    for root in &truth.roots {
        line(4, &root.canal_px);
    }
    for (_, tip, tip_visible, stop, share) in files {
        if tip_visible {
            put(1, tip, 1.5);
        }
        if share > 0.6 {
            put(2, stop, 1.5);
        } else if share > 0.0 {
            put(5, stop, 8.0);
        }
    }
    for root in truth.roots.iter().filter(|root| root.apex_visible) {
        put(3, root.apex_px, 1.5);
    }
    maps
}

fn sample(seed: u64) -> Sample {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x7EAC);
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let cluttered = !seed.is_multiple_of(4);
    let mut spec = PhantomSpec::of_families(Families::Tuning, cluttered, kind, seed);
    // Near the reader's own cells: finer pixels tell it nothing more.
    let pitch_mm = rng.random_range(0.032..0.06);
    let detector = &mut spec.detector;
    let scale = detector.pixel_pitch_mm[0] / pitch_mm;
    detector.width_px = (f64::from(detector.width_px) * scale) as u32;
    detector.height_px = (f64::from(detector.height_px) * scale) as u32;
    detector.photons = detector.photons.map(|p| p / (scale * scale));
    detector.pixel_pitch_mm = [pitch_mm; 2];
    let phantom = render(&spec).expect("the drawn spec can be rendered");
    // The reader has to stand a pitch that is not quite known.
    let believed_mm = pitch_mm * rng.random_range(0.85f64..1.18);
    let cells = film_cells(&phantom.film, believed_mm);
    let mut film = vec![0i16; 4 * SIDE * SIDE];
    for y in 0..cells.height().min(2 * SIDE) {
        for x in 0..cells.width().min(2 * SIDE) {
            let value = cells.values()[y * cells.width() + x];
            film[y * 2 * SIDE + x] = (value * 32767.0) as i16;
        }
    }
    Sample {
        film,
        truth: truth_maps(&phantom.truth, 2.0 * CELL_MM / believed_mm),
        size: [cells.width() / 2, cells.height() / 2].map(|n| n.min(SIDE) as u16),
    }
}

fn main() -> std::io::Result<()> {
    let arguments = Arguments::parse();
    std::fs::create_dir_all(&arguments.folder)?;
    let create = |name: &str| {
        std::fs::File::create(arguments.folder.join(name)).map(std::io::BufWriter::new)
    };
    let (mut films, mut truths, mut sizes) = (
        create("films.i16")?,
        create("truth.u8")?,
        create("sizes.u16")?,
    );
    let first = FIRST_SEED + arguments.skip;
    let seeds: Vec<u64> = (first..first + arguments.films).collect();
    for block in seeds.chunks(64) {
        let samples: Vec<Sample> = block.par_iter().map(|&seed| sample(seed)).collect();
        for sample in samples {
            let bytes: Vec<u8> = sample.film.iter().flat_map(|v| v.to_le_bytes()).collect();
            films.write_all(&bytes)?;
            truths.write_all(&sample.truth)?;
            for n in sample.size {
                sizes.write_all(&n.to_le_bytes())?;
            }
        }
    }
    Ok(())
}
