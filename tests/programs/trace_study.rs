//! What traces of known canals do to lengths, to the warning of scatter beyond
//! the stated click noise, and to the class of canals with a recurve: tables
//! of docs/accuracy.md.

use std::fmt::Write as _;

use kurbo::Point;
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::geometry::{Piece, StraightArcPath};
use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{MeasureSettings, Precision, measure};
use lengthfilm::phantom::shapes::{Family, Shape};
use lengthfilm::units::Quantity;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::families::noisy_trace::{drawn_mm, noisy_trace};
use super::families::{AWAY_FROM_THE_EDGE_MM, warns};

const FIRST_SEED: u64 = 61_000_000;
const STATED_MM: f64 = 0.05;

fn canal_of(family: Family, number: u64) -> (Shape, u64) {
    let seed = FIRST_SEED + number;
    (family.random(&mut ChaCha8Rng::seed_from_u64(seed)), seed)
}

/// Bias of the curved length by number of points, as drawn and as stated.
pub fn lengths(canals: u64) -> String {
    const COUNTS: [usize; 5] = [6, 8, 14, 24, 40];
    let settings = MeasureSettings {
        precision: Precision::ValuesOnly,
        ..MeasureSettings::default()
    };
    let mut out = String::from("| shape |");
    for count in COUNTS {
        let _ = write!(out, " {count} points: as drawn | as stated |");
    }
    let _ = writeln!(out, "\n|---|{}", "---|".repeat(2 * COUNTS.len()));
    for family in Family::ALL {
        let _ = write!(out, "| {} |", family.words());
        for count in COUNTS {
            let errors: Vec<[f64; 2]> = (0..canals)
                .into_par_iter()
                .filter_map(|number| {
                    let (shape, seed) = canal_of(family, number);
                    let places = shape.places(count).map(|p| p + AWAY_FROM_THE_EDGE_MM);
                    let (case, film) = noisy_trace(places, [STATED_MM; 2], seed);
                    // Noise may put two of 40 points on one place, which is refused.
                    let found = measure(&case, &film, "length", &settings).ok()?;
                    let stated = found.canals[0].curved_length_mm.expect("a length").value;
                    let lengths = [drawn_mm(&case).length(), stated];
                    Some(lengths.map(|length| length - shape.length_mm()))
                })
                .collect();
            for column in 0..2 {
                let sum: f64 = errors.iter().map(|e| e[column]).sum();
                let _ = write!(out, " {:+.3} |", sum / errors.len() as f64);
            }
        }
        out.push('\n');
    }
    out
}

/// How a trace of known noise, with 0.05 mm stated, was judged.
struct Judged {
    noticed: bool,
    net_held: bool,
    total_held: bool,
    s_shaped: bool,
}

fn holds(found: Option<Quantity>, truth: f64) -> bool {
    found.is_some_and(|found| (found.value - truth).abs() <= found.u95)
}

fn judged(
    family: Family,
    number: u64,
    count: usize,
    noise_mm: f64,
    settings: &MeasureSettings,
) -> Option<Judged> {
    let (shape, seed) = canal_of(family, number);
    let places = shape.places(count).map(|p| p + AWAY_FROM_THE_EDGE_MM);
    let (case, film) = noisy_trace(places, [noise_mm, STATED_MM], seed);
    // Noise may put two points on one place, which is refused.
    let found = measure(&case, &film, "scatter", settings).ok()?;
    let total: f64 = shape.curves().iter().map(|c| c.turn_rad.abs()).sum();
    let curvature = found.canals[0].curvature.as_ref().expect("curvature");
    Some(Judged {
        noticed: warns(&found, "click_noise_exceeded"),
        net_held: holds(
            curvature[CurvatureQuantity::NetTurn],
            shape.net_turn_rad().to_degrees(),
        ),
        total_held: holds(curvature[CurvatureQuantity::TotalTurn], total.to_degrees()),
        s_shaped: curvature.s_shaped,
    })
}

/// Share of traces told that they scatter more than the 0.05 mm stated, and
/// what their intervals hold; canals with one bend of every family.
pub fn scatter(canals: u64, settings: &MeasureSettings) -> String {
    let mut out = String::from(
        "| real noise mm | points | told so, % | net turn held, % | total turn held, % | called S-shaped, % |\n\
         |---|---|---|---|---|---|\n",
    );
    for noise_mm in [0.02, 0.05, 0.075, 0.10] {
        for count in [8, 12, 14, 24] {
            let of_number = |number: u64| {
                Family::ALL
                    .into_iter()
                    .filter(|family| *family != Family::SOfSines)
                    .filter_map(move |family| judged(family, number, count, noise_mm, settings))
                    .collect::<Vec<_>>()
            };
            let found: Vec<Judged> = (0..canals).into_par_iter().flat_map(of_number).collect();
            let share = |of: fn(&Judged) -> bool| {
                100.0 * found.iter().filter(|j| of(j)).count() as f64 / found.len() as f64
            };
            let _ = writeln!(
                out,
                "| {noise_mm} | {count} | {:.0} | {:.0} | {:.0} | {:.0} |",
                share(|j| j.noticed),
                share(|j| j.net_held),
                share(|j| j.total_held),
                share(|j| j.s_shaped),
            );
        }
    }
    out
}

/// Bends of 45° and of 35–50° with a recurve to the apex, as (first turn,
/// second turn) in degrees.
fn with_recurve(number: u64) -> [f64; 2] {
    const EVEN: [[f64; 2]; 4] = [[45.0, -4.0], [45.0, -6.0], [45.0, -9.0], [45.0, -12.0]];
    if number.is_multiple_of(2) {
        return EVEN[(number / 2 % 4) as usize];
    }
    let mut rng = ChaCha8Rng::seed_from_u64(FIRST_SEED + number);
    [rng.random_range(35.0..50.0), -rng.random_range(5.0..9.9)]
}

fn recurve_finding(
    number: u64,
    count: usize,
    noise_mm: f64,
    settings: &MeasureSettings,
) -> Findings {
    let [first, second] = with_recurve(number).map(f64::to_radians);
    let mut rng = ChaCha8Rng::seed_from_u64(FIRST_SEED + 100_000 + number);
    let [first_radius, second_radius] = [5.0..10.0, 6.0..12.0].map(|r| rng.random_range(r));
    let pieces = [
        Piece::Straight {
            length: rng.random_range(5.0..9.0),
        },
        Piece::Arc {
            length: first_radius * first.abs(),
            turn_rad: first,
        },
        Piece::Arc {
            length: second_radius * second.abs(),
            turn_rad: second,
        },
        Piece::Straight {
            length: rng.random_range(0.0..1.5),
        },
    ];
    let path = StraightArcPath::new(Point::new(20.0, 8.0), 1.4, &pieces).expect("a path");
    let along = |i: usize| path.point_at_length(path.length() * i as f64 / (count - 1) as f64);
    let (case, film) = noisy_trace((0..count).map(along), [noise_mm; 2], FIRST_SEED + number);
    measure(&case, &film, "recurve", settings).expect("a usable case")
}

/// Classes of severe canals with a slight recurve.
pub fn recurves(canals: u64, settings: &MeasureSettings) -> String {
    let mut out = String::from(
        "| points | noise mm | low, % | moderate, % | high, % | greatest probability of low | S-shaped, % |\n\
         |---|---|---|---|---|---|---|\n",
    );
    for count in [8, 12, 24] {
        for noise_mm in [0.02, 0.05] {
            let of_number = |number: u64| recurve_finding(number, count, noise_mm, settings);
            let found: Vec<Findings> = (0..canals).into_par_iter().map(of_number).collect();
            let curvatures = || {
                let canals = found.iter().map(|found| &found.canals[0]);
                canals.filter_map(|canal| canal.curvature.as_ref())
            };
            let share = |n: usize| 100.0 * n as f64 / found.len() as f64;
            let class = |name: &str| {
                let named = |class: &Option<String>| class.as_deref() == Some(name);
                share(curvatures().filter(|c| named(&c.difficulty.class)).count())
            };
            let most_low = curvatures()
                .filter_map(|c| Some(c.difficulty.probabilities?.low))
                .fold(0.0, f64::max);
            let _ = writeln!(
                out,
                "| {count} | {noise_mm} | {:.0} | {:.0} | {:.0} | {most_low:.3} | {:.0} |",
                class("low"),
                class("moderate"),
                class("high"),
                share(curvatures().filter(|c| c.s_shaped).count()),
            );
        }
    }
    out
}
