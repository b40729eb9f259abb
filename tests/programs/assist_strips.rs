//! Strips of films along files, for training the filters that say where a file
//! ends, where its stop sits, and whether the file that was pressed runs along a
//! line (`tests/scripts/train_strips.py`):
//!
//! ```text
//! cargo run --release --example assist_strips -- FOLDER --films 4000
//! ```
//!
//! Appends to `tip.i16` and `stop.i16` (opacity × 32767, −1 off the film;
//! [`ROWS`] × [`COLUMNS`] from coronal to apical, the place asked for in the
//! middle row) and to `tip.f32` and `stop.f32` (three numbers a strip: 1 where
//! the place shows, 0 where there is none; the file's size, 0 without a file;
//! the film's kinds: bone + 10 · stop + 100 where it has octave noise). Of films
//! with several files also to `course.i16` (the film along every line that a
//! press on one of them is taken for) and `course.f32` (five numbers: whether
//! that file runs along the line to its stop, and to its tip, −1 where it cannot
//! be told; row and column of the press; mm between rows). Only films of the
//! tuning set.

#[path = "../support/training.rs"]
mod training;

use clap::Parser;
use lengthfilm::assist::strip::{Course, End, Strip, axis};
use lengthfilm::assist::{LocateOptions, weighed_files};
use lengthfilm::film::Film;
use lengthfilm::phantom::clutter::{NoiseSpec, NoiseSpectrum, ResponseCurve};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use training::{Rendered, append_in_blocks, bytes_of};

#[derive(Parser)]
struct Arguments {
    #[command(flatten)]
    rendered: Rendered,
    /// Ends on films of the test set's looks: what is trained on them tells how
    /// much there is to see, and is never shipped.
    #[arg(long)]
    test_looks: bool,
}

/// Rows and columns that are written: more than the filter sees, so that
/// training can move the strip.
const ROWS: usize = 540;
const COLUMNS: usize = 56;
/// Seeds of the training films; others are used nowhere else.
const FIRST_SEED: u64 = 600_000_000;
const FIRST_TEST_SEED: u64 = 700_000_000;
/// Films rendered between two writes.
const BLOCK: usize = 64;

/// What a strip is about.
#[derive(Clone, Copy, PartialEq, Eq)]
enum About {
    End(End),
    Course,
}

#[derive(Clone)]
struct Sample {
    about: About,
    strip: Vec<i16>,
    facts: Vec<f32>,
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
    Some(stored(&strip.values))
}

fn stored(values: &[f32]) -> Vec<i16> {
    let stored = |v: &f32| {
        if v.is_nan() {
            -1
        } else {
            (v.clamp(0.0, 1.0) * 32767.0) as i16
        }
    };
    values.iter().map(stored).collect()
}

/// A press on a file, mm off, lies this far from every other.
const PRESS_OFF_MM: f64 = 0.15;
const APART_MM: f64 = 0.4;
/// A course is a file's where it lies within this of it, mm.
const ON_FILE_MM: f64 = 0.25;
/// A stop this near is the file's own, mm; one farther than the second is not.
const OWN_STOP_MM: [f64; 2] = [0.3, 0.5];

/// The courses that the assistant takes a press on each of several files for,
/// with what is right of them.
fn courses_of(
    film: &Film,
    files: &[FileFacts],
    pitch_mm: f64,
    rng: &mut ChaCha8Rng,
) -> Vec<Sample> {
    let mut samples = Vec::new();
    let nearest_mm = |p: FilmPoint, line: &[FilmPoint]| {
        let off = line.iter().map(|q| q.distance_px(p));
        off.fold(f64::INFINITY, f64::min) * pitch_mm
    };
    for (k, (line, apex, canal, _, _, _)) in files.iter().enumerate() {
        let others = files.iter().enumerate().filter(|(other, _)| *other != k);
        let others: Vec<&FileFacts> = others.map(|(_, file)| file).collect();
        let inside = |p: &FilmPoint| {
            (0.0..f64::from(film.width_px())).contains(&p.x)
                && (0.0..f64::from(film.height_px())).contains(&p.y)
        };
        let apart = |p: &FilmPoint| others.iter().all(|f| nearest_mm(*p, f.0) >= APART_MM);
        let shown = line[line.len() / 6..line.len() * 19 / 20].iter();
        let shown: Vec<&FilmPoint> = shown.filter(|p| inside(p) && apart(p)).collect();
        if shown.is_empty() {
            continue;
        }
        let at = shown[rng.random_range(0..shown.len())];
        let (sin, cos) = rng.random_range(0.0..std::f64::consts::TAU).sin_cos();
        let off_px = PRESS_OFF_MM / pitch_mm * rng.random_range(0.0..1.3);
        let near = FilmPoint::new(at.x + off_px * cos, at.y + off_px * sin);
        let options = LocateOptions {
            mm_per_px: Some(pitch_mm),
        };
        let Ok(found) = weighed_files(film, near, &options, &Progress::unwatched()) else {
            continue;
        };
        // Fine places, so that the nearest one is as near as the line.
        let whole = fine(&carried_on(line, canal, *apex));
        for stop in found.iter().flat_map(|file| &file.stops) {
            let Some(course) = Course::of(film, &stop.line, near, 1.0 / pitch_mm) else {
                continue;
            };
            let nearest = (0..stop.line.len()).min_by(|a, b| {
                let off = |i: &usize| stop.line[*i].distance_px(near);
                off(a).total_cmp(&off(b))
            });
            let (coronal, apical) = stop.line.split_at(nearest.unwrap_or(0));
            let off_share = |part: &[FilmPoint]| {
                let off = part.iter().filter(|p| nearest_mm(**p, &whole) > ON_FILE_MM);
                off.count() as f64 / part.len().max(1) as f64
            };
            let known = |off: f64, [least, most]: [f64; 2]| match off {
                off if off <= least => 1.0,
                off if off > most => 0.0,
                _ => -1.0,
            };
            let to_tip = known(off_share(apical), [0.06, 0.15]);
            let to_stop = if stop.evidence.value > 0.0 {
                known(stop.line[0].distance_px(line[0]) * pitch_mm, OWN_STOP_MM)
            } else {
                known(off_share(coronal), [0.06, 0.15])
            };
            let [row, column] = course.press;
            samples.push(Sample {
                about: About::Course,
                strip: stored(&course.values),
                facts: vec![to_stop, to_tip, row, column, course.step_mm],
            });
        }
    }
    samples
}

/// A line's places, three to each step.
fn fine(line: &[FilmPoint]) -> Vec<FilmPoint> {
    let between = |w: &[FilmPoint], f: f64| {
        FilmPoint::new(
            w[0].x + f * (w[1].x - w[0].x),
            w[0].y + f * (w[1].y - w[0].y),
        )
    };
    let steps = line.windows(2);
    let places = steps.flat_map(|w| [0.0, 1.0 / 3.0, 2.0 / 3.0].map(|f| between(w, f)));
    places.chain(line.last().copied()).collect()
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

/// Stops and tapers beyond what is usual.
fn unusual_file(spec: &mut PhantomSpec, rng: &mut ChaCha8Rng) {
    if let Some(file) = &mut spec.file {
        file.stop_diameter_mm = rng.random_range(1.8..4.8);
        file.stop_thickness_mm = rng.random_range(0.6..2.2);
        file.taper = [0.02, 0.02, 0.03, 0.04, 0.06][rng.random_range(0..5)];
        spec.clutter.stop.attenuation_per_mm = rng.random_range(0.05..0.55);
    }
}

/// Bone, noise and processing of the tuning set's kinds beyond what is usual.
fn unusual_film(spec: &mut PhantomSpec, rng: &mut ChaCha8Rng) {
    spec.look.bone_contrast *= rng.random_range(0.7..1.6);
    spec.look.trabecula_mm = rng.random_range(0.4f64.ln()..3.4f64.ln()).exp();
    for _ in 0..rng.random_range(0..=2) {
        let noises = Families::Tuning.noises();
        spec.clutter.noise.push(NoiseSpec {
            spectrum: noises[rng.random_range(0..noises.len())],
            amplitude: rng.random_range(0.002..0.02),
            grain_mm: rng.random_range(0.02..0.16),
        });
    }
    let processing = &mut spec.clutter.processing;
    if rng.random_bool(0.3) {
        processing.sharpen = rng.random_range(0.3..3.0);
        processing.sharpen_mm = rng.random_range(0.04..0.5);
    }
    if rng.random_bool(0.3) {
        processing.curve = if rng.random_bool(0.5) {
            ResponseCurve::Power {
                gamma: rng.random_range(0.45..2.0),
            }
        } else {
            ResponseCurve::Steep {
                slope: rng.random_range(1.0..3.0),
                middle: rng.random_range(0.3..0.7),
            }
        };
    }
}

/// Strips about the ends of a film's files, and along canals without one.
fn ends(looks: Families, seed: u64) -> Vec<Sample> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x57E1);
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let cluttered = seed % 5 < 3;
    let mut spec = PhantomSpec::of_families(looks, cluttered, kind, seed);
    let pitch_mm = rng.random_range(0.028..0.042);
    spec.detector.set_pitch_mm(pitch_mm);
    unusual_file(&mut spec, &mut rng);
    if looks == Families::Tuning && rng.random_bool(0.3) {
        unusual_film(&mut spec, &mut rng);
    }
    let Ok(phantom) = render(&spec) else {
        return Vec::new();
    };
    let (film, truth) = (&phantom.film, &phantom.truth);
    let code = kinds(&spec);
    let mut samples = Vec::new();
    let mut add = |end: End, line: &[FilmPoint], at_px: f64, there: bool, size: f64| {
        if let Some(strip) = strip(film, end, line, at_px, pitch_mm) {
            let facts = vec![f32::from(u8::from(there)), size as f32, code];
            let about = About::End(end);
            samples.push(Sample {
                about,
                strip,
                facts,
            });
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

/// Courses of a film with several files; none of another.
fn courses(seed: u64) -> Vec<Sample> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x57E1);
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let mut spec = PhantomSpec::of_families(Families::Tuning, true, kind, seed);
    if spec.clutter.second_files.is_empty() {
        return Vec::new();
    }
    let pitch_mm = rng.random_range(0.028..0.042);
    spec.detector.set_pitch_mm(pitch_mm);
    unusual_file(&mut spec, &mut rng);
    unusual_film(&mut spec, &mut rng);
    let Ok(phantom) = render(&spec) else {
        return Vec::new();
    };
    let files = files(&spec, &phantom.truth);
    courses_of(&phantom.film, &files, pitch_mm, &mut rng)
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

impl Sample {
    /// The strip, where it is one about `about`.
    fn strip_of(&self, about: About) -> Vec<u8> {
        let strip = (self.about == about).then_some(&self.strip[..]);
        bytes_of(strip.unwrap_or_default(), i16::to_le_bytes)
    }

    /// The same of its facts.
    fn facts_of(&self, about: About) -> Vec<u8> {
        let facts = (self.about == about).then_some(&self.facts[..]);
        bytes_of(facts.unwrap_or_default(), f32::to_le_bytes)
    }
}

fn main() -> std::io::Result<()> {
    const TIP: About = About::End(End::Tip);
    const STOP: About = About::End(End::Stop);
    let arguments = Arguments::parse();
    let samples = |seed| {
        if arguments.test_looks {
            ends(Families::Test, seed)
        } else {
            [ends(Families::Tuning, seed), courses(seed)].concat()
        }
    };
    append_in_blocks(
        &arguments.rendered,
        if arguments.test_looks {
            FIRST_TEST_SEED
        } else {
            FIRST_SEED
        },
        BLOCK,
        samples,
        &[
            ("tip.i16", |s: &Sample| s.strip_of(TIP)),
            ("tip.f32", |s| s.facts_of(TIP)),
            ("stop.i16", |s| s.strip_of(STOP)),
            ("stop.f32", |s| s.facts_of(STOP)),
            ("course.i16", |s| s.strip_of(About::Course)),
            ("course.f32", |s| s.facts_of(About::Course)),
        ],
    )
}
