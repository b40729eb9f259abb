//! Do the stated intervals hold the truth of canals of any shape? The table of
//! shapes in docs/accuracy.md.

use std::fmt::Write as _;

use kurbo::Vec2;
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{MeasureSettings, measure};
use lengthfilm::phantom::shapes::{Family, Shape};
use lengthfilm::units::Quantity;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

#[path = "../support/noisy_trace.rs"]
pub mod noisy_trace;

use noisy_trace::noisy_trace;

/// Where the orifice of a canal lies on its film.
pub const AWAY_FROM_THE_EDGE_MM: Vec2 = Vec2::new(15.0, 15.0);
const POINT_COUNTS: [usize; 3] = [8, 14, 24];
const NOISES_MM: [f64; 2] = [0.02, 0.05];
/// Warnings that tell the reader not to trust the bends.
const CODES: [&str; 3] = [
    "curve_model",
    "click_noise_exceeded",
    "few_points_for_curves",
];

/// One number beside the truth.
#[derive(Clone, Copy)]
struct Beside {
    error: f64,
    holds: bool,
    u95: f64,
}

impl Beside {
    fn new(found: Option<Quantity>, truth: f64) -> Option<Self> {
        Self::with_span(found, None, truth)
    }

    /// Of a number with an interval that is not even about it.
    fn with_span(found: Option<Quantity>, span: Option<[f64; 2]>, truth: f64) -> Option<Self> {
        let found = found?;
        let error = found.value - truth;
        let [low, high] = span.unwrap_or([found.value - found.u95, found.value + found.u95]);
        Some(Self {
            error,
            holds: (low..=high).contains(&truth),
            u95: 0.5 * (high - low),
        })
    }
}

/// Net turn, total turn, smallest radius and length of one canal.
struct Outcome {
    numbers: [Option<Beside>; 4],
    warned: bool,
}

fn outcome(
    shape: &Shape,
    count: usize,
    noise_mm: f64,
    seed: u64,
    settings: &MeasureSettings,
) -> Outcome {
    let places = shape
        .places(count)
        .map(|place| place + AWAY_FROM_THE_EDGE_MM);
    let (case, film) = noisy_trace(places, [noise_mm; 2], seed);
    let found = measure(&case, &film, "family", settings).expect("a usable case");
    let canal = &found.canals[0];
    let of = |quantity| canal.curvature.as_ref().and_then(|c| c[quantity]);
    let span = |quantity| canal.curvature.as_ref().and_then(|c| c.span(quantity));
    let total: f64 = shape.curves().iter().map(|c| c.turn_rad.abs()).sum();
    Outcome {
        numbers: [
            Beside::new(
                of(CurvatureQuantity::NetTurn),
                shape.net_turn_rad().to_degrees(),
            ),
            Beside::new(of(CurvatureQuantity::TotalTurn), total.to_degrees()),
            Beside::with_span(
                of(CurvatureQuantity::SmallestRadius),
                span(CurvatureQuantity::SmallestRadius),
                shape.smallest_radius_mm(),
            ),
            Beside::new(canal.curved_length_mm, shape.length_mm()),
        ],
        warned: CODES.iter().any(|code| warns(&found, code)),
    }
}

/// Whether a warning of that code was given.
pub fn warns(found: &Findings, code: &str) -> bool {
    found.warnings.iter().any(|warning| warning.code == code)
}

/// "coverage, median error, median U" of one number.
fn cells(outcomes: &[Outcome], number: usize, digits: usize) -> String {
    let found: Vec<Beside> = outcomes.iter().filter_map(|o| o.numbers[number]).collect();
    if found.is_empty() {
        return "– | – | –".to_owned();
    }
    let held = found.iter().filter(|b| b.holds).count() as f64 / found.len() as f64;
    let mean = found.iter().map(|b| b.error).sum::<f64>() / found.len() as f64;
    let mut u95: Vec<f64> = found.iter().map(|b| b.u95).collect();
    u95.sort_by(f64::total_cmp);
    format!(
        "{:.0} | {mean:+.digits$} | {:.digits$}",
        100.0 * held,
        u95[u95.len() / 2]
    )
}

/// The table in Markdown, `canals` of each row.
pub fn table(canals: u64, settings: &MeasureSettings) -> String {
    let mut out = String::from(
        "| shape | points | noise mm | net turn held, % | bias, ° | median U | total turn held, % | \
         bias, ° | median U | smallest radius held, % | bias, mm | median half width | length held, % | \
         bias, mm | median U | warned, % |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for family in Family::ALL {
        for count in POINT_COUNTS {
            for noise_mm in NOISES_MM {
                let of_canal = |number: u64| {
                    let seed = 52_000_000 + number;
                    let shape = family.random(&mut ChaCha8Rng::seed_from_u64(seed));
                    outcome(&shape, count, noise_mm, seed, settings)
                };
                let outcomes: Vec<Outcome> = (0..canals).into_par_iter().map(of_canal).collect();
                let warned = outcomes.iter().filter(|o| o.warned).count() as f64;
                let _ = writeln!(
                    out,
                    "| {} | {count} | {noise_mm:.2} | {} | {} | {} | {} | {:.0} |",
                    family.words(),
                    cells(&outcomes, 0, 1),
                    cells(&outcomes, 1, 1),
                    cells(&outcomes, 2, 2),
                    cells(&outcomes, 3, 3),
                    100.0 * warned / outcomes.len() as f64,
                );
            }
        }
    }
    out
}
