//! Readings of a followed line on phantom films whose truth is known: how far
//! they lie off it, whether their stated uncertainties hold, and over which way
//! their errors are alike.
//!
//! ```text
//! cargo run --release --example film_angles -- readings tuning --films 120
//! cargo run --release --example film_angles -- angles test --films 240
//! ```
//!
//! `angles` prints what that makes of the turns: the table of docs/accuracy.md.

#[path = "film_angle_study.rs"]
mod study;

use clap::{Parser, ValueEnum};
use lengthfilm::assist::{FollowOptions, FollowedPath, Reading, follow};
use lengthfilm::measure::{MeasureSettings, ReadFollowed};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Distance of a click from where it should be, mm, any direction.
const CLICK_ERROR_MM: f64 = 0.1;

#[derive(Parser)]
struct Arguments {
    #[arg(value_enum)]
    what: What,
    #[arg(value_enum)]
    set: Set,
    /// Number of films.
    #[arg(long, default_value_t = 120)]
    films: u64,
    /// Skip this many films of the set.
    #[arg(long, default_value_t = 0)]
    skip: u64,
    /// One line a film.
    #[arg(long)]
    each: bool,
    /// Monte Carlo draws of each film.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
    /// Which readings count.
    #[arg(long, value_enum, default_value_t = Read::Instrument)]
    read: Read,
    /// Another power of the evidence by which forms share.
    #[arg(long)]
    form_power: Option<f64>,
    /// Readings less certain by this factor.
    #[arg(long, default_value_t = 1.0)]
    wider: f64,
    /// Another uncertainty of a followed line's ends, mm.
    #[arg(long)]
    end_mm: Option<f64>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Read {
    Instrument,
    Everything,
}

impl From<Read> for ReadFollowed {
    fn from(read: Read) -> Self {
        match read {
            Read::Instrument => Self::Instrument,
            Read::Everything => Self::Everything,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    Readings,
    Angles,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Set {
    Tuning,
    Test,
}

impl Set {
    fn spec(self, number: u64) -> PhantomSpec {
        let (families, first) = match self {
            Self::Tuning => (Families::Tuning, 31_000),
            Self::Test => (Families::Test, 8_400_000),
        };
        let kind = CanalKind::ALL[number as usize % CanalKind::ALL.len()];
        let mut spec = PhantomSpec::of_families(families, false, kind, first + number);
        // The kinds take turns as well as the shapes.
        study::mix_shapes(&mut spec, number / 4);
        spec
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

/// A film, followed from two clicks.
struct Film {
    truth: Truth,
    followed: FollowedPath,
}

fn followed(spec: &PhantomSpec) -> Option<Film> {
    let phantom = render(spec).expect("the drawn spec can be rendered");
    let truth = phantom.truth;
    let mm_per_px = truth.mm_per_px[0];
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0x5eed);
    let ends = [truth.orifice_px, truth.foramen_px].map(|p| displaced(p, mm_per_px, &mut rng));
    let options = FollowOptions {
        bright: false,
        mm_per_px: Some(truth.pixel_pitch_mm[0]),
    };
    let followed = follow(&phantom.film, &ends, &options, &Progress::unwatched()).ok()?;
    Some(Film { truth, followed })
}

/// Signed distance of a point from a line, and where along it, px; `None`
/// beyond its ends.
fn offset(p: FilmPoint, line: &[FilmPoint]) -> Option<(f64, f64)> {
    let mut at = 0.0;
    let mut nearest: Option<(f64, f64, bool)> = None;
    for (index, pair) in line.windows(2).enumerate() {
        let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
        let length = dx.hypot(dy);
        let (px, py) = (p.x - pair[0].x, p.y - pair[0].y);
        let along = (px * dx + py * dy) / length;
        let across = (dx * py - dy * px) / length;
        let clamped = along.clamp(0.0, length);
        let distance = across.hypot(along - clamped);
        let beyond = (index == 0 && along < 0.0) || (index + 2 == line.len() && along > length);
        if nearest.is_none_or(|(least, _, _)| distance < least.abs()) {
            nearest = Some((distance.copysign(across), at + clamped, beyond));
        }
        at += length;
    }
    nearest
        .filter(|(_, _, beyond)| !beyond)
        .map(|(offset, at, _)| (offset, at))
}

/// A reading against the truth, mm.
#[derive(Clone, Copy)]
struct Error {
    at_mm: f64,
    error_mm: f64,
    u_mm: f64,
    metal: bool,
}

fn errors(film: &Film) -> Vec<Error> {
    let truth = &film.truth;
    let mm_per_px = truth.mm_per_px[0];
    let one = |reading: &Reading| {
        let line = match (&truth.file, reading.metal) {
            (Some(file), true) => &file.centre_line_px,
            _ => &truth.canal_px,
        };
        let (offset_px, at_px) = offset(reading.at, line)?;
        Some(Error {
            at_mm: at_px * mm_per_px,
            error_mm: offset_px * mm_per_px,
            u_mm: reading.u_px * mm_per_px,
            metal: reading.metal,
        })
    };
    film.followed.readings.iter().filter_map(one).collect()
}

fn quantile(values: &mut [f64], p: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let last = values.len().saturating_sub(1);
    values
        .get((last as f64 * p) as usize)
        .copied()
        .unwrap_or(f64::NAN)
}

fn report_readings(films: &[(PhantomSpec, Vec<Error>, f64)]) {
    for metal in [true, false] {
        let of_kind = |errors: &[Error]| -> Vec<Error> {
            errors
                .iter()
                .copied()
                .filter(|e| e.metal == metal)
                .collect()
        };
        let all: Vec<Error> = films.iter().flat_map(|f| of_kind(&f.1)).collect();
        println!(
            "{}: {} readings",
            if metal { "file" } else { "canal" },
            all.len()
        );
        if all.is_empty() {
            continue;
        }
        let mut off: Vec<f64> = all.iter().map(|e| e.error_mm.abs()).collect();
        let mut u: Vec<f64> = all.iter().map(|e| e.u_mm).collect();
        let ratio = |e: &Error| e.error_mm / e.u_mm;
        let mut ratios: Vec<f64> = all.iter().map(|e| ratio(e).abs()).collect();
        println!(
            "  |error| median {:.4}, 90 % {:.4}, 99 % {:.4} mm; u median {:.4}, 90 % {:.4}",
            quantile(&mut off, 0.5),
            quantile(&mut off, 0.9),
            quantile(&mut off, 0.99),
            quantile(&mut u, 0.5),
            quantile(&mut u, 0.9)
        );
        println!(
            "  |error|/u: 50 % {:.2} (normal 0.67), 68 % {:.2} (1), 90 % {:.2} (1.64), 95 % {:.2} (1.96), 99 % {:.2}",
            quantile(&mut ratios, 0.5),
            quantile(&mut ratios, 0.68),
            quantile(&mut ratios, 0.9),
            quantile(&mut ratios, 0.95),
            quantile(&mut ratios, 0.99)
        );
        // By u: does a larger stated uncertainty mean a larger error?
        let mut sorted = all.clone();
        sorted.sort_by(|a, b| a.u_mm.total_cmp(&b.u_mm));
        for chunk in sorted.chunks(sorted.len().div_ceil(5)) {
            let rms = |of: &dyn Fn(&Error) -> f64| {
                (chunk.iter().map(|e| of(e).powi(2)).sum::<f64>() / chunk.len() as f64).sqrt()
            };
            let mut off: Vec<f64> = chunk.iter().map(|e| e.error_mm.abs()).collect();
            println!(
                "  u {:.4}: rms error {:.4}, robust {:.4}",
                rms(&|e| e.u_mm),
                rms(&|e| e.error_mm),
                quantile(&mut off, 0.68)
            );
        }
        // Correlation along the line, errors clipped at 4 u.
        let mut sums = [[0.0f64; 3]; 12];
        for film in films {
            let errors = of_kind(&film.1);
            for (i, a) in errors.iter().enumerate() {
                for b in &errors[i..] {
                    let lag = ((b.at_mm - a.at_mm).abs() / 0.4).round() as usize;
                    if let Some(sum) = sums.get_mut(lag) {
                        let [x, y] = [a, b].map(|e| ratio(e).clamp(-4.0, 4.0));
                        sum[0] += x * y;
                        sum[1] += 1.0;
                    }
                }
            }
        }
        let variance = sums[0][0] / sums[0][1];
        let shares: Vec<String> = sums[1..]
            .iter()
            .map(|sum| format!("{:.2}", sum[0] / sum[1] / variance))
            .collect();
        println!("  correlation at 0.4, 0.8 … mm: {}", shares.join(" "));
    }
    let empty: Vec<_> = films.iter().filter(|f| f.0.file.is_none()).collect();
    let mut covered: Vec<f64> = empty.iter().map(|f| f.1.len() as f64 * 0.4 / f.2).collect();
    println!(
        "share of empty canals read: quartile {:.2}, median {:.2}",
        quantile(&mut covered, 0.25),
        quantile(&mut covered, 0.5)
    );
}

fn main() {
    let arguments = Arguments::parse();
    let numbers = arguments.skip..arguments.skip + arguments.films;
    let specs: Vec<PhantomSpec> = numbers.map(|n| arguments.set.spec(n)).collect();
    match arguments.what {
        What::Angles => {
            let mut settings = MeasureSettings {
                draws: arguments.draws,
                read_followed: arguments.read.into(),
                ..MeasureSettings::default()
            };
            if let Some(power) = arguments.form_power {
                settings.read_form_power = power;
            }
            if let Some(end_mm) = arguments.end_mm {
                settings.uncertainty.followed_end_mm = end_mm;
            }
            print!(
                "{}",
                study::table(specs, &settings, arguments.wider, arguments.each)
            );
        }
        What::Readings => {
            let films: Vec<_> = specs
                .into_par_iter()
                .filter_map(|spec| {
                    let film = followed(&spec)?;
                    let length_mm = film.truth.canal_length_as_projected_mm;
                    Some((spec, errors(&film), length_mm))
                })
                .collect();
            if arguments.each {
                for (spec, errors, length_mm) in &films {
                    let rms = |of: &dyn Fn(&Error) -> f64| {
                        (errors.iter().map(|e| of(e).powi(2)).sum::<f64>()
                            / errors.len().max(1) as f64)
                            .sqrt()
                    };
                    println!(
                        "{} {:?} file {} read {:.2} rms error {:.4} rms u {:.4} ratio {:.2}",
                        spec.seed,
                        spec.kind,
                        spec.file.is_some(),
                        errors.len() as f64 * 0.4 / length_mm,
                        rms(&|e| e.error_mm),
                        rms(&|e| e.u_mm),
                        rms(&|e| e.error_mm / e.u_mm),
                    );
                }
            }
            report_readings(&films);
        }
    }
}
