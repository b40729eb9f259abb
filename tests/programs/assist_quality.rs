//! How well the assistant follows canals and finds files on phantom films
//! whose truth is known: the table of docs/assist.md.
//!
//! ```text
//! cargo run --release --no-default-features --example assist_quality            # tuning and test seeds
//! cargo run --release --no-default-features --example assist_quality -- sweeps  # noise, blur, contrast, depth, pitch, turns
//! cargo run --release --no-default-features --example assist_quality -- test --films 20 --each
//! ```

#[path = "../support/drawn.rs"]
mod drawn;

use std::path::{Path, PathBuf};

use clap::{Parser, ValueEnum};
use lengthfilm::assist::{FollowOptions, LocateOptions, follow, locate_file};
use lengthfilm::film::{Film, Window};
use lengthfilm::phantom::{CanalKind, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Seeds that tuning may look at.
const TUNING_SEEDS: u64 = 1_000;
/// Seeds that tuning never saw.
const TEST_SEEDS: u64 = 7_000_000;
/// Distance of a click from where it should be, mm, any direction.
const CLICK_ERROR_MM: f64 = 0.15;

#[derive(Parser)]
struct Arguments {
    #[arg(value_enum, default_value = "both")]
    what: What,
    /// Films per set.
    #[arg(long, default_value_t = 120)]
    films: u64,
    /// One line a film.
    #[arg(long)]
    each: bool,
    /// Skip this many films of the set.
    #[arg(long, default_value_t = 0)]
    skip: u64,
    /// Withhold the pixel pitch from the assistant.
    #[arg(long)]
    unknown_pitch: bool,
    /// Write a picture of every film whose path falls short into this folder:
    /// the canal plain, with the true canal (green), with the path (red).
    #[arg(long)]
    pictures: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    Both,
    Tuning,
    Test,
    Sweeps,
}

/// What one film gave; mm.
struct Outcome {
    name: String,
    kind: CanalKind,
    with_file: bool,
    calcified: bool,
    path_mean_mm: f64,
    path_p95_mm: f64,
    confidence: f64,
    follow_ms: f64,
    /// Confidence in the calcified stretch and elsewhere, where there is one.
    faded: Option<[f64; 2]>,
    path_px: Vec<FilmPoint>,
    /// Tip and stop errors; infinite when not found.
    file_mm: Option<[f64; 2]>,
    /// Tip error along the file, positive beyond.
    tip_along_mm: f64,
    file_confidence: f64,
    /// A file was found where there is none.
    invented_file: bool,
    locate_ms: f64,
}

impl Outcome {
    fn path_good(&self) -> bool {
        self.path_mean_mm <= 0.08 && self.path_p95_mm <= 0.2
    }
}

fn displaced(p: FilmPoint, mm_per_px: f64, rng: &mut ChaCha8Rng) -> FilmPoint {
    let direction = rng.random_range(0.0..std::f64::consts::TAU);
    let radius = CLICK_ERROR_MM / mm_per_px;
    FilmPoint::new(
        p.x + radius * direction.cos(),
        p.y + radius * direction.sin(),
    )
}

fn examine(spec: &PhantomSpec, known_pitch: bool) -> Outcome {
    let phantom = render(spec).expect("the drawn spec can be rendered");
    examine_film(&phantom.film, &phantom.truth, known_pitch)
}

fn examine_film(film: &Film, truth: &Truth, known_pitch: bool) -> Outcome {
    let spec = &truth.spec;
    let mm_per_px = truth.mm_per_px[0];
    let pitch_mm = known_pitch.then_some(truth.pixel_pitch_mm[0]);
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0x5eed);

    let ends = [truth.orifice_px, truth.foramen_px].map(|p| displaced(p, mm_per_px, &mut rng));
    let options = FollowOptions {
        bright: false,
        mm_per_px: pitch_mm,
    };
    let followed = follow(film, &ends, &options, &Progress::unwatched());
    let (mut mean, mut p95, mut confidence, mut follow_ms) =
        (f64::INFINITY, f64::INFINITY, 0.0, 0.0);
    let mut faded = None;
    if let Ok(path) = &followed {
        [mean, p95] = drawn::mean_and_95_percent_mm(&path.points_px, &truth.canal_px, mm_per_px);
        confidence = path.mean_confidence;
        follow_ms = path.ms;
        if spec.canal.calcified_apical_mm > 0.0 && spec.file.is_none() {
            let reach_px = 0.6 * spec.canal.calcified_apical_mm / mm_per_px;
            let mut sums = [[0.0, 0.0]; 2];
            for (p, c) in path.path_px.iter().zip(&path.confidence) {
                let place = usize::from(p.distance_px(truth.foramen_px) > reach_px);
                sums[place][0] += c;
                sums[place][1] += 1.0;
            }
            faded = Some(sums.map(|[sum, count]| sum / count));
        }
    }

    let (mut file_mm, mut file_confidence, mut locate_ms) = (None, 0.0, 0.0);
    let mut tip_along_mm = f64::NAN;
    let mut invented_file = false;
    if truth.file.is_none() {
        let at = rng.random_range(0.1..0.9) * (truth.canal_px.len() - 1) as f64;
        let near = displaced(truth.canal_px[at as usize], mm_per_px, &mut rng);
        let options = LocateOptions {
            mm_per_px: pitch_mm,
        };
        invented_file = locate_file(film, near, &options, &Progress::unwatched()).is_ok();
    }
    if let Some(file) = &truth.file {
        let line = &file.centre_line_px;
        let at = rng.random_range(0.1..0.9) * (line.len() - 1) as f64;
        let near = displaced(line[at as usize], mm_per_px, &mut rng);
        let options = LocateOptions {
            mm_per_px: pitch_mm,
        };
        let located = locate_file(film, near, &options, &Progress::unwatched());
        file_mm = Some(match located {
            Ok(located) => {
                file_confidence = located.confidence;
                locate_ms = located.ms;
                let (before, end) = (line[line.len() - 2], line[line.len() - 1]);
                let (dx, dy) = (end.x - before.x, end.y - before.y);
                let tip = located.tip_px;
                tip_along_mm =
                    ((tip.x - end.x) * dx + (tip.y - end.y) * dy) / dx.hypot(dy) * mm_per_px;
                [
                    located.tip_px.distance_px(file.tip_px) * mm_per_px,
                    located
                        .stop_px
                        .map_or(f64::INFINITY, |stop| stop.distance_px(file.stop_px))
                        * mm_per_px,
                ]
            }
            Err(_) => [f64::INFINITY; 2],
        });
    }
    Outcome {
        name: spec.seed.to_string(),
        kind: spec.kind,
        with_file: truth.file.is_some(),
        calcified: spec.canal.calcified_apical_mm > 0.0,
        path_mean_mm: mean,
        path_p95_mm: p95,
        confidence,
        follow_ms,
        faded,
        path_px: followed.map(|path| path.path_px).unwrap_or_default(),
        file_mm,
        tip_along_mm,
        file_confidence,
        invented_file,
        locate_ms,
    }
}

/// Writes the canal's surroundings three times side by side.
fn write_picture(folder: &Path, spec: &PhantomSpec, path_px: &[FilmPoint]) {
    let phantom = render(spec).expect("the drawn spec can be rendered");
    let (film, truth) = (&phantom.film, &phantom.truth);
    let window = Window::automatic(film, 0.02, 0.98).expect("a phantom film has contrast");
    let (width, height) = (film.width_px(), film.height_px());
    let grey =
        image::GrayImage::from_raw(width, height, window.to_8_bit(film)).expect("one byte a pixel");
    let margin = 3.0 / truth.mm_per_px[0];
    let around = |of: fn(&FilmPoint) -> f64, size: u32| {
        let low = truth.canal_px.iter().map(of).fold(f64::MAX, f64::min) - margin;
        let high = truth.canal_px.iter().map(of).fold(f64::MIN, f64::max) + margin;
        let low = low.clamp(0.0, f64::from(size) - 1.0) as u32;
        (low, (high.max(0.0) as u32).min(size) - low)
    };
    let ((left, columns), (top, rows)) = (around(|p| p.x, width), around(|p| p.y, height));
    let crop = image::imageops::crop_imm(&grey, left, top, columns, rows).to_image();
    let mut sheet = image::RgbImage::new(3 * columns, rows);
    let lines: [(&[FilmPoint], [u8; 3]); 3] = [
        (&[], [0; 3]),
        (&truth.canal_px, [0, 255, 0]),
        (path_px, [255, 60, 60]),
    ];
    for (panel, (line, colour)) in lines.into_iter().enumerate() {
        let shift = panel as u32 * columns;
        for (x, y, pixel) in crop.enumerate_pixels() {
            sheet.put_pixel(x + shift, y, image::Rgb([pixel.0[0]; 3]));
        }
        for pair in line.windows(2) {
            for k in 0..=20 {
                let f = f64::from(k) / 20.0;
                let x = pair[0].x + f * (pair[1].x - pair[0].x) - f64::from(left);
                let y = pair[0].y + f * (pair[1].y - pair[0].y) - f64::from(top);
                if (0.0..f64::from(columns)).contains(&x) && (0.0..f64::from(rows)).contains(&y) {
                    sheet.put_pixel(x as u32 + shift, y as u32, image::Rgb(colour));
                }
            }
        }
    }
    let name = folder.join(format!("{}.png", spec.seed));
    sheet.save(name).expect("the folder can be written");
}

fn share(outcomes: &[&Outcome], good: impl Fn(&Outcome) -> bool) -> String {
    let count = outcomes.iter().filter(|o| good(o)).count();
    format!(
        "{count:3}/{:<3} {:5.1} %",
        outcomes.len(),
        100.0 * count as f64 / outcomes.len().max(1) as f64
    )
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

fn line(name: &str, outcomes: &[&Outcome]) {
    let files: Vec<&Outcome> = outcomes
        .iter()
        .copied()
        .filter(|o| o.file_mm.is_some())
        .collect();
    let tip = |o: &Outcome| o.file_mm.is_some_and(|[tip, _]| tip <= 0.1);
    let stop = |o: &Outcome| o.file_mm.is_some_and(|[_, stop]| stop <= 0.15);
    println!(
        "{name:26} path {}  median mean {:.3} p95 {:.3} mm | tip {}  stop {}  median {:.3} {:.3} mm",
        share(outcomes, Outcome::path_good),
        median(outcomes.iter().map(|o| o.path_mean_mm).collect()),
        median(outcomes.iter().map(|o| o.path_p95_mm).collect()),
        share(&files, tip),
        share(&files, stop),
        median(
            files
                .iter()
                .filter_map(|o| o.file_mm)
                .map(|f| f[0])
                .collect()
        ),
        median(
            files
                .iter()
                .filter_map(|o| o.file_mm)
                .map(|f| f[1])
                .collect()
        ),
    );
}

fn mixed_specs(first: u64, arguments: &Arguments) -> Vec<PhantomSpec> {
    (first + arguments.skip..first + arguments.skip + arguments.films)
        .map(|seed| PhantomSpec::random(CanalKind::ALL[(seed % 4) as usize], seed))
        .collect()
}

fn run(specs: &[PhantomSpec], arguments: &Arguments) -> Vec<Outcome> {
    // Films are rendered in parallel; times come from films examined alone.
    specs
        .par_iter()
        .map(|spec| examine(spec, !arguments.unknown_pitch))
        .collect()
}

fn table(title: &str, specs: &[PhantomSpec], arguments: &Arguments) {
    let outcomes = run(specs, arguments);
    println!("\n{title}: {} films", outcomes.len());
    if let Some(folder) = &arguments.pictures {
        let missed = specs.iter().zip(&outcomes).filter(|(_, o)| !o.path_good());
        for (spec, outcome) in missed {
            write_picture(folder, spec, &outcome.path_px);
        }
    }
    if arguments.each {
        for o in &outcomes {
            let marks = format!(
                "{}{}{}",
                if o.path_good() { ' ' } else { 'P' },
                if o.file_mm.is_some_and(|[tip, _]| tip > 0.1) {
                    'T'
                } else {
                    ' '
                },
                if o.file_mm.is_some_and(|[_, stop]| stop > 0.15) {
                    'S'
                } else {
                    ' '
                },
            );
            println!(
                "{marks} {:>9} {:?} file {} calcified {} mean {:.3} p95 {:.3} confidence {:.2} faded {:?} | {:.3?} along {:.3} {:.2} | {:.0} {:.0} ms",
                o.name,
                o.kind,
                o.with_file,
                o.calcified,
                o.path_mean_mm,
                o.path_p95_mm,
                o.confidence,
                o.faded,
                o.file_mm,
                o.tip_along_mm,
                o.file_confidence,
                o.follow_ms,
                o.locate_ms
            );
        }
    }
    let pick = |good: &dyn Fn(&Outcome) -> bool| -> Vec<&Outcome> {
        outcomes.iter().filter(|o| good(o)).collect()
    };
    line("all", &pick(&|_| true));
    for kind in CanalKind::ALL {
        line(&format!("{kind:?}"), &pick(&|o| o.kind == kind));
    }
    line("file in the canal", &pick(&|o| o.with_file));
    line("empty canal", &pick(&|o| !o.with_file));
    line(
        "calcified, no file",
        &pick(&|o| o.calcified && !o.with_file),
    );
    let empty = pick(&|o| !o.with_file);
    println!(
        "no file claimed where there is none: {}",
        share(&empty, |o| !o.invented_file)
    );
    let faded: Vec<[f64; 2]> = outcomes.iter().filter_map(|o| o.faded).collect();
    println!(
        "confidence, calcified films: {:.2} where the canal has faded, {:.2} elsewhere (medians)",
        median(faded.iter().map(|f| f[0]).collect()),
        median(faded.iter().map(|f| f[1]).collect()),
    );
}

/// The test films again, each time with one condition changed.
fn sweeps(arguments: &Arguments) {
    let base = mixed_specs(TEST_SEEDS, arguments);
    type Change = Box<dyn Fn(&mut PhantomSpec)>;
    let pitch =
        |pitch_mm: f64| -> Change { Box::new(move |spec| spec.detector.set_pitch_mm(pitch_mm)) };
    let changes: Vec<(&str, Change)> = vec![
        ("as drawn", Box::new(|_| ())),
        ("no noise", Box::new(|s| s.detector.photons = None)),
        (
            "a third of the quanta",
            Box::new(|s| s.detector.photons = s.detector.photons.map(|p| p / 3.0)),
        ),
        (
            "a tenth of the quanta",
            Box::new(|s| s.detector.photons = s.detector.photons.map(|p| p / 10.0)),
        ),
        ("blur 0.06 mm", Box::new(|s| s.detector.blur_mm = 0.06)),
        ("blur 0.10 mm", Box::new(|s| s.detector.blur_mm = 0.10)),
        (
            "half the contrast",
            Box::new(|s| {
                s.detector.white_depth = 2.0 * s.detector.white_depth - s.detector.black_depth
            }),
        ),
        ("8 bit", Box::new(|s| s.detector.bits = 8)),
        (
            "8 bit, half the contrast",
            Box::new(|s| {
                s.detector.bits = 8;
                s.detector.white_depth = 2.0 * s.detector.white_depth - s.detector.black_depth;
            }),
        ),
        ("pitch 0.020 mm", pitch(0.020)),
        ("pitch 0.030 mm", pitch(0.030)),
        ("pitch 0.040 mm", pitch(0.040)),
        ("pitch 0.050 mm", pitch(0.050)),
        ("pitch 0.064 mm", pitch(0.064)),
        (
            "turned 90 degrees",
            Box::new(|s| s.view.quarter_turns = (s.view.quarter_turns + 1) % 4),
        ),
        (
            "turned 270 degrees",
            Box::new(|s| s.view.quarter_turns = (s.view.quarter_turns + 3) % 4),
        ),
        (
            "bone twice as coarse",
            Box::new(|s| s.look.bone_contrast *= 2.0),
        ),
    ];
    println!("\nsweeps over {} test films", base.len());
    for (name, change) in changes {
        let mut specs = base.clone();
        specs.iter_mut().for_each(change);
        let outcomes = run(&specs, arguments);
        line(name, &outcomes.iter().collect::<Vec<_>>());
    }
}

fn main() {
    let arguments = Arguments::parse();
    if matches!(arguments.what, What::Both | What::Tuning) {
        table(
            "tuning seeds",
            &mixed_specs(TUNING_SEEDS, &arguments),
            &arguments,
        );
    }
    if matches!(arguments.what, What::Both | What::Test) {
        table(
            "test seeds",
            &mixed_specs(TEST_SEEDS, &arguments),
            &arguments,
        );
    }
    if arguments.what == What::Sweeps {
        sweeps(&arguments);
    }
}
