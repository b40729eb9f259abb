//! Films and what is true of them, as raw arrays for training the film reader
//! (`tests/scripts/train_reader.py`):
//!
//! ```text
//! cargo run --release --example assist_films -- FOLDER --films 4000
//! ```
//!
//! Appends to `films.i16` (opacity × 32767 on cells of 0.05 mm, rows of
//! 2 × [`SIDE`]) and to `truth.f32` (one record of [`RECORD`] numbers a film,
//! places in cells of 0.1 mm). Only films of the tuning set.
//!
//! A record: width and height of the film; then for each of [`FILES`] files
//! whether there is one, its tip, whether that shows, the stop's tooth-side
//! face, its visible share, and [`LINE`] places from stop to tip; then for each
//! of [`CANALS`] canals whether there is one, the root's end, whether that
//! shows (0 too where the root is another canal's), and [`LINE`] places from
//! orifice to foramen.

#[path = "../support/training.rs"]
mod training;

use clap::Parser;
use lengthfilm::assist::reader::{CELL_MM, film_cells};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, Truth, render};
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use training::{Rendered, append_in_blocks, bytes_of};

#[derive(Parser)]
struct Arguments {
    #[command(flatten)]
    rendered: Rendered,
}

/// Side of the arrays, cells of 0.1 mm: 41.6 mm.
const SIDE: usize = 416;
/// Files and canals of a record, and places of a line.
const FILES: usize = 4;
const CANALS: usize = 8;
const LINE: usize = 48;
/// Numbers of a record.
const RECORD: usize = 2 + FILES * (7 + 2 * LINE) + CANALS * (4 + 2 * LINE);
/// Seeds of the training films; the tuning films of the quality table lie
/// elsewhere.
const FIRST_SEED: u64 = 400_000_000;
/// Films rendered between two writes.
const BLOCK: usize = 128;

struct Sample {
    film: Vec<i16>,
    truth: Vec<f32>,
}

/// The record of a film whose cells of 0.1 mm are `cell_px` wide.
fn record(truth: &Truth, size: [usize; 2], cell_px: f64) -> Vec<f32> {
    let mut numbers: Vec<f32> = size.map(|n| n as f32).to_vec();
    let place = |p: FilmPoint| [(p.x / cell_px) as f32, (p.y / cell_px) as f32];
    let line = |points: &[FilmPoint]| -> Vec<f32> {
        let last = (points.len() - 1) as f64;
        (0..LINE)
            .flat_map(|i| {
                let at = last * i as f64 / (LINE - 1) as f64;
                let (a, part) = (at as usize, at.fract());
                let (p, q) = (points[a], points[(a + 1).min(points.len() - 1)]);
                place(FilmPoint::new(
                    p.x + part * (q.x - p.x),
                    p.y + part * (q.y - p.y),
                ))
            })
            .collect()
    };
    let first = truth.file.iter().map(|f| {
        let shown = (f.tip_visible, f.stop_visible_share);
        (&f.centre_line_px, f.tip_px, f.stop_px, shown)
    });
    let further = truth.second_files.iter().map(|f| {
        let shown = (f.tip_visible, f.stop_visible_share);
        (&f.centre_line_px, f.tip_px, f.stop_px, shown)
    });
    for (points, tip, stop, (tip_visible, stop_share)) in first.chain(further).take(FILES) {
        numbers.push(1.0);
        numbers.extend(place(tip));
        numbers.push(f32::from(u8::from(tip_visible)));
        numbers.extend(place(stop));
        numbers.push(stop_share as f32);
        numbers.extend(line(points));
    }
    numbers.resize(2 + FILES * (7 + 2 * LINE), 0.0);
    let roots = truth
        .roots
        .iter()
        .map(|r| (&r.canal_px, r.apex_px, r.apex_visible));
    let beside = truth
        .second_files
        .iter()
        .map(|f| (&f.canal_px, f.tip_px, false));
    for (points, apex, visible) in roots.chain(beside).take(CANALS) {
        numbers.push(1.0);
        numbers.extend(place(apex));
        numbers.push(f32::from(u8::from(visible)));
        numbers.extend(line(points));
    }
    numbers.resize(RECORD, 0.0);
    numbers
}

fn sample(seed: u64) -> Sample {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x7EAC);
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let cluttered = !seed.is_multiple_of(4);
    let mut spec = PhantomSpec::of_families(Families::Tuning, cluttered, kind, seed);
    // Near the reader's own cells: finer pixels tell it nothing more.
    let pitch_mm = rng.random_range(0.03..0.05);
    spec.detector.set_pitch_mm(pitch_mm);
    let phantom = render(&spec).expect("the drawn spec can be rendered");
    // The reader has to stand a pitch that is not quite known.
    let believed_mm = pitch_mm * rng.random_range(0.87f64..1.15);
    let cells = film_cells(&phantom.film, believed_mm);
    let mut film = vec![0i16; 4 * SIDE * SIDE];
    for y in 0..cells.height().min(2 * SIDE) {
        for x in 0..cells.width().min(2 * SIDE) {
            let value = cells.values()[y * cells.width() + x];
            film[y * 2 * SIDE + x] = (value * 32767.0) as i16;
        }
    }
    let size = [cells.width() / 2, cells.height() / 2].map(|n| n.min(SIDE));
    Sample {
        film,
        truth: record(&phantom.truth, size, 2.0 * CELL_MM / believed_mm),
    }
}

fn main() -> std::io::Result<()> {
    append_in_blocks(
        &Arguments::parse().rendered,
        FIRST_SEED,
        BLOCK,
        |seed| vec![sample(seed)],
        &[
            ("films.i16", |s: &Sample| {
                bytes_of(&s.film, i16::to_le_bytes)
            }),
            ("truth.f32", |s| bytes_of(&s.truth, f32::to_le_bytes)),
        ],
    )
}
