//! Strips of films along files, for training the filter that says where a file
//! ends and where its stop sits (`tests/scripts/train_strips.py`):
//!
//! ```text
//! cargo run --release --example assist_strips -- FOLDER --films 4000
//! ```
//!
//! Appends to `tip.i16` and `stop.i16` (opacity × 32767, −1 off the film;
//! [`ROWS`] × [`COLUMNS`] from coronal to apical, the place asked for in the
//! middle row) and to `tip.f32` and `stop.f32` (three numbers a strip: 1 where
//! the place shows, 0 where there is none; the file's size, 0 without a file;
//! the film's kinds: bone + 10 · stop + 100 where it has octave noise). Only films
//! of the tuning set.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Parser;
use lengthfilm::assist::strip::{End, Strip, axis};
use lengthfilm::film::Film;
use lengthfilm::phantom::clutter::NoiseSpectrum;
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, Truth, render};
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Rows and columns that are written: more than the filter sees, so that
/// training can move the strip.
const ROWS: usize = 540;
const COLUMNS: usize = 56;
/// Seeds of the training films; others are used nowhere else.
const FIRST_SEED: u64 = 600_000_000;
/// Films rendered between two writes.
const BLOCK: usize = 64;

#[derive(Parser)]
struct Arguments {
    folder: PathBuf,
    #[arg(long, default_value_t = 4000)]
    films: u64,
    #[arg(long, default_value_t = 0)]
    skip: u64,
}

struct Sample {
    end: End,
    strip: Vec<i16>,
    facts: [f32; 3],
}

fn length_px(line: &[FilmPoint]) -> f64 {
    line.windows(2).map(|w| w[0].distance_px(w[1])).sum()
}

/// The strip whose middle row lies `at_px` along `line`.
fn strip(
    film: &Film,
    end: End,
    line: &[FilmPoint],
    at_px: f64,
    mm_per_px: f64,
) -> Option<Vec<i16>> {
    let step_px = end.step_mm() / mm_per_px;
    let axis = axis(end, line, at_px, ROWS, ROWS / 2, 1.0 / mm_per_px);
    let cells = end.cells(film, &axis, COLUMNS as f64 * step_px, mm_per_px)?;
    let strip = Strip::along(film, &cells, &axis, COLUMNS, step_px);
    let stored = strip.values.iter().map(|v| {
        if v.is_nan() {
            -1
        } else {
            (v.clamp(0.0, 1.0) * 32767.0) as i16
        }
    });
    Some(stored.collect())
}

/// `file`'s line carried on along its canal and to `apex`, as far as those lie
/// beyond its tip.
fn carried_on(file: &[FilmPoint], canal: &[FilmPoint], apex: Option<FilmPoint>) -> Vec<FilmPoint> {
    let mut line = file.to_vec();
    let Some(&tip) = file.last() else {
        return line;
    };
    let nearest = (0..canal.len()).min_by(|&a, &b| {
        let off = |i: usize| canal[i].distance_px(tip);
        off(a).total_cmp(&off(b))
    });
    let Some(nearest) = nearest else {
        return line;
    };
    if nearest + 2 < canal.len() {
        line.extend(&canal[nearest + 2..]);
        line.extend(apex);
    }
    line
}

fn samples(seed: u64) -> Vec<Sample> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x57E1);
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let cluttered = seed % 5 < 3;
    let mut spec = PhantomSpec::of_families(Families::Tuning, cluttered, kind, seed);
    let pitch_mm = rng.random_range(0.028..0.042);
    let detector = &mut spec.detector;
    let scale = detector.pixel_pitch_mm[0] / pitch_mm;
    detector.width_px = (f64::from(detector.width_px) * scale) as u32;
    detector.height_px = (f64::from(detector.height_px) * scale) as u32;
    detector.photons = detector.photons.map(|p| p / (scale * scale));
    detector.pixel_pitch_mm = [pitch_mm; 2];
    if let Some(file) = &mut spec.file {
        // Stops and tapers beyond what is usual.
        file.stop_diameter_mm = rng.random_range(1.8..4.8);
        file.stop_thickness_mm = rng.random_range(0.6..2.2);
        file.taper = [0.02, 0.02, 0.03, 0.04, 0.06][rng.random_range(0..5)];
        spec.clutter.stop.attenuation_per_mm = rng.random_range(0.05..0.55);
    }
    let Ok(phantom) = render(&spec) else {
        return Vec::new();
    };
    let (film, truth) = (&phantom.film, &phantom.truth);
    let code = kinds(&spec);
    let mut samples = Vec::new();
    let mut add = |end: End, line: &[FilmPoint], at_px: f64, there: bool, size: f64| {
        if let Some(strip) = strip(film, end, line, at_px, pitch_mm) {
            let facts = [f32::from(u8::from(there)), size as f32, code];
            samples.push(Sample { end, strip, facts });
        }
    };
    for (line, apex, canal, tip_visible, stop_share, size) in files(&spec, truth) {
        let tip_px = length_px(line);
        let straight = rng.random_bool(0.3);
        let whole = if straight {
            line.to_vec()
        } else {
            carried_on(line, canal, apex)
        };
        if tip_visible {
            add(End::Tip, &whole, tip_px, true, size);
        }
        if !(1e-9..=0.6).contains(&stop_share) {
            add(End::Stop, &whole, 0.0, stop_share > 0.6, size);
        }
    }
    // Canals without a file.
    let treated = usize::from(truth.file.is_some());
    let free = truth.roots.iter().skip(treated);
    let taken: Vec<FilmPoint> = truth.second_files.iter().map(|f| f.tip_px).collect();
    for root in free.filter(|r| r.apex_visible).take(3) {
        let near = |tip: &FilmPoint| {
            root.canal_px
                .iter()
                .any(|p| p.distance_px(*tip) * pitch_mm < 1.0)
        };
        if taken.iter().any(near) || root.canal_px.len() < 8 {
            continue;
        }
        let mut line = root.canal_px.clone();
        line.push(root.apex_px);
        let length = length_px(&line);
        let at_px = length + rng.random_range(-5.0..1.5) / pitch_mm;
        add(End::Tip, &line, at_px, false, 0.0);
    }
    samples
}

/// Kinds of bone, stop and noise as one number.
fn kinds(spec: &PhantomSpec) -> f32 {
    let clutter = &spec.clutter;
    let bones = Families::Tuning.bones().iter();
    let bone = bones.take_while(|b| **b != clutter.bone).count();
    let stops = Families::Tuning.stops().iter();
    let stop = stops.take_while(|s| **s != clutter.stop.form).count();
    let octaves = (clutter.noise.iter()).any(|n| n.spectrum == NoiseSpectrum::Octaves);
    (bone + 10 * stop + 100 * usize::from(octaves)) as f32
}

type FileFacts<'a> = (
    &'a [FilmPoint],
    Option<FilmPoint>,
    &'a [FilmPoint],
    bool,
    f64,
    f64,
);

/// Line, root's end, canal, whether the tip shows, share of the stop that
/// shows, size of every file.
fn files<'a>(spec: &'a PhantomSpec, truth: &'a Truth) -> Vec<FileFacts<'a>> {
    let mut files: Vec<FileFacts> = Vec::new();
    if let (Some(file), Some(drawn)) = (&truth.file, &spec.file) {
        files.push((
            &file.centre_line_px,
            Some(truth.apex_px),
            &truth.canal_px,
            file.tip_visible,
            file.stop_visible_share,
            f64::from(drawn.size),
        ));
    }
    for (file, drawn) in truth.second_files.iter().zip(&spec.clutter.second_files) {
        files.push((
            &file.centre_line_px,
            None,
            &file.canal_px,
            file.tip_visible,
            file.stop_visible_share,
            f64::from(drawn.file.size),
        ));
    }
    files
}

fn main() -> std::io::Result<()> {
    let arguments = Arguments::parse();
    std::fs::create_dir_all(&arguments.folder)?;
    let first = FIRST_SEED + arguments.skip;
    let seeds: Vec<u64> = (first..first + arguments.films).collect();
    for block in seeds.chunks(BLOCK) {
        let samples: Vec<Sample> = block.par_iter().flat_map(|&seed| samples(seed)).collect();
        for (end, name) in [(End::Tip, "tip"), (End::Stop, "stop")] {
            let of_end = || samples.iter().filter(|s| s.end == end);
            let strips = of_end().flat_map(|s| s.strip.iter().flat_map(|v| v.to_le_bytes()));
            append(&arguments.folder, &format!("{name}.i16"), strips.collect())?;
            let facts = of_end().flat_map(|s| s.facts.iter().flat_map(|v| v.to_le_bytes()));
            append(&arguments.folder, &format!("{name}.f32"), facts.collect())?;
        }
    }
    Ok(())
}

fn append(folder: &Path, name: &str, bytes: Vec<u8>) -> std::io::Result<()> {
    let mut file = std::fs::File::options()
        .create(true)
        .append(true)
        .open(folder.join(name))?;
    file.write_all(&bytes)
}
