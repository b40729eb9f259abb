//! How well assistance reads phantom films whose truth is known: the tables of
//! docs/assist.md.
//!
//! ```text
//! cargo run --release --no-default-features --example suggest_quality -- test --films 240
//! cargo run --release --no-default-features --example suggest_quality -- tuning --films 240
//! ```
//!
//! Half of the films are cluttered. The two sets have no kind of bone, clamp,
//! noise, response curve or stop in common (`phantom::Families`).

#[path = "../support/drawn.rs"]
mod drawn;
#[path = "../support/film_quality.rs"]
mod film_quality;
#[path = "../support/strip_trial.rs"]
mod strip_trial;
#[path = "../support/tip_shows.rs"]
mod tip_shows;

use clap::{Parser, ValueEnum};
use film_quality::{Asked, Outcome, examine};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec};
use rayon::prelude::*;
use strip_trial::StripTrial;
use tip_shows::TipShows;

#[derive(Parser)]
struct Arguments {
    #[arg(value_enum, default_value = "test")]
    set: Set,
    /// Number of films.
    #[arg(long, default_value_t = 240)]
    films: u64,
    /// Skip this many films of the set.
    #[arg(long, default_value_t = 0)]
    skip: u64,
    /// One line a film.
    #[arg(long)]
    each: bool,
    /// Weights of the reader to try instead of those built in.
    #[arg(long)]
    weights: Option<std::path::PathBuf>,
    /// Only the files: no canals, no apices.
    #[arg(long)]
    files: bool,
    #[command(flatten)]
    strips: StripTrial,
    /// Also how well each film shows its tips (three times as slow).
    #[arg(long)]
    tip_shows: bool,
    /// Withhold the pixel pitch.
    #[arg(long)]
    unknown_pitch: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum Set {
    Tuning,
    Test,
}

fn share(name: &str, results: &[bool]) {
    let right = results.iter().filter(|r| **r).count();
    println!(
        "  {name:44} {right:4} of {:4}  {:5.1} %",
        results.len(),
        100.0 * right as f64 / results.len().max(1) as f64
    );
}

/// Stated confidence against the share that was right, by tenths.
fn reliability(name: &str, results: &[(f64, bool)]) {
    println!("  {name}: confidence stated, share right, number");
    for tenth in 0..10 {
        let low = f64::from(tenth) / 10.0;
        let inside: Vec<&(f64, bool)> = results
            .iter()
            .filter(|(c, _)| *c >= low && (*c < low + 0.1 || (tenth == 9 && *c <= 1.0)))
            .collect();
        if inside.is_empty() {
            continue;
        }
        let n = inside.len() as f64;
        println!(
            "    {low:.1}–{:.1}  {:.3}  {:.3}  {}",
            low + 0.1,
            inside.iter().map(|r| r.0).sum::<f64>() / n,
            inside.iter().filter(|r| r.1).count() as f64 / n,
            inside.len()
        );
    }
    if let Some([slope, shift]) = logistic(results) {
        println!("    right = logistic({slope:.3} · logit(stated) + {shift:.3})");
    }
}

/// Maximum-likelihood slope and shift of the logit, by Newton's steps.
fn logistic(results: &[(f64, bool)]) -> Option<[f64; 2]> {
    let logit = |c: f64| (c.clamp(1e-4, 1.0 - 1e-4) / (1.0 - c.clamp(1e-4, 1.0 - 1e-4))).ln();
    let [mut a, mut b] = [1.0, 0.0];
    for _ in 0..40 {
        let (mut ga, mut gb, mut haa, mut hab, mut hbb) = (0.0, 0.0, 1e-3, 0.0, 1e-3);
        for (c, right) in results {
            let x = logit(*c);
            let p = 1.0 / (1.0 + (-(a * x + b)).exp());
            let error = f64::from(u8::from(*right)) - p;
            let w = p * (1.0 - p);
            ga += error * x;
            gb += error;
            haa += w * x * x;
            hab += w * x;
            hbb += w;
        }
        let det = haa * hbb - hab * hab;
        if det.abs() < 1e-12 {
            return None;
        }
        a += ((hbb * ga - hab * gb) / det).clamp(-1.0, 1.0);
        b += ((haa * gb - hab * ga) / det).clamp(-1.0, 1.0);
    }
    Some([a, b])
}

fn table(title: &str, outcomes: &[&Outcome]) {
    println!("{title}: {} films", outcomes.len());
    let files = || outcomes.iter().flat_map(|o| &o.files);
    let tips: Vec<bool> = files()
        .filter(|f| f.tip_visible)
        .map(|f| f.tip_mm <= 0.15)
        .collect();
    share("tip within 0.15 mm", &tips);
    let shown = || files().filter(|f| f.tip_visible);
    let several = || shown().filter(|f| f.files > 1);
    let right: Vec<bool> = several().map(|f| f.tip_mm <= 0.15).collect();
    share("  several files in the film", &right);
    let others: Vec<bool> = several()
        .map(|f| f.tip_mm > 0.15 && f.other_tip_mm <= 0.3)
        .collect();
    share("  several: another file's tip", &others);
    let fine = shown().filter(|f| f.files == 1 && f.size <= 10);
    let right: Vec<bool> = fine.map(|f| f.tip_mm <= 0.15).collect();
    share("  one file, size 06 to 10", &right);
    let stops: Vec<bool> = files()
        .filter(|f| f.stop_share > 0.8)
        .map(|f| f.stop_mm.is_some_and(|mm| mm <= 0.2))
        .collect();
    share("visible stop within 0.2 mm", &stops);
    let wrong: Vec<bool> = files()
        .filter(|f| f.stop_share > 0.8)
        .map(|f| f.stop_mm.is_some_and(|mm| mm > 0.5))
        .collect();
    share("visible stop claimed, but > 0.5 mm off", &wrong);
    let invented: Vec<bool> = files()
        .filter(|f| f.stop_share == 0.0)
        .map(|f| f.stop_mm.is_some())
        .collect();
    share("stop claimed where none is visible", &invented);
    let partly: Vec<bool> = files()
        .filter(|f| f.stop_share > 0.0 && f.stop_share <= 0.8)
        .map(|f| f.stop_mm.is_none_or(|mm| mm <= 0.5))
        .collect();
    share("partly hidden stop: none, or within 0.5 mm", &partly);
    let paths: Vec<&film_quality::PathOutcome> =
        outcomes.iter().filter_map(|o| o.path.as_ref()).collect();
    let pick = |clear: bool| -> Vec<&film_quality::PathOutcome> {
        paths.iter().copied().filter(|p| p.clear == clear).collect()
    };
    for (name, clear) in [("visible canal", true), ("faded or covered canal", false)] {
        let of = pick(clear);
        let good: Vec<bool> = of
            .iter()
            .map(|p| p.mean_mm <= 0.08 && p.p95_mm <= 0.2)
            .collect();
        share(&format!("{name}: path good"), &good);
        let left: Vec<bool> = of.iter().map(|p| p.left_share > 0.1).collect();
        share(&format!("{name}: left for a neighbour"), &left);
    }
    let apices: Vec<bool> = outcomes
        .iter()
        .filter_map(|o| o.apex_mm)
        .map(|mm| mm <= 0.5)
        .collect();
    share("treated apex suggested within 0.5 mm", &apices);
    let none: Vec<bool> = outcomes
        .iter()
        .filter(|o| o.files.is_empty())
        .map(|o| o.invented_file)
        .collect();
    share("file claimed where there is none", &none);
    let median = |mut v: Vec<f64>| {
        v.sort_by(f64::total_cmp);
        v.get(v.len() / 2).copied().unwrap_or(f64::NAN)
    };
    println!(
        "  medians: tip {:.3} mm, stop {:.3} mm, path {:.3} mm",
        median(
            files()
                .filter(|f| f.tip_visible)
                .map(|f| f.tip_mm)
                .collect()
        ),
        median(files().filter_map(|f| f.stop_mm).collect()),
        median(paths.iter().map(|p| p.mean_mm).collect()),
    );
}

/// How many tips are right among those that the film shows about as well.
fn tips_by_what_shows(outcomes: &[Outcome]) {
    type Measure = fn(&TipShows) -> f64;
    let measures: [(&str, Measure); 2] = [
        ("noise", |s| s.over_noise),
        ("noise and surroundings", |s| s.over_surroundings),
    ];
    for (name, of) in measures {
        println!("  tips by d′ over {name}");
        for [low, high] in [[0.0, 1.0], [1.0, 2.0], [2.0, 4.0], [4.0, 8.0], [8.0, 1e9]] {
            let files = outcomes.iter().flat_map(|o| &o.files);
            let inside = files.filter(|f| {
                let shows = f.tip_shows.as_ref().map(of);
                shows.is_some_and(|d| (low..high).contains(&d))
            });
            let right: Vec<bool> = inside.map(|f| f.tip_mm <= 0.15).collect();
            if !right.is_empty() {
                share(&format!("  d′ from {low}"), &right);
            }
        }
    }
}

fn main() {
    let arguments = Arguments::parse();
    if let Some(path) = &arguments.weights {
        let bytes = std::fs::read(path).expect("the weights can be read");
        let taken = lengthfilm::assist::reader::try_weights(bytes);
        assert!(taken, "the weights are of another size");
    }
    arguments.strips.begin();
    let asked = Asked {
        known_pitch: !arguments.unknown_pitch,
        files_only: arguments.files,
        tip_shows: arguments.tip_shows,
    };
    let (families, first) = match arguments.set {
        Set::Tuning => (Families::Tuning, 1_000_000),
        Set::Test => (Families::Test, 7_000_000),
    };
    let first = first + arguments.skip;
    let outcomes: Vec<Outcome> = (first..first + arguments.films)
        .into_par_iter()
        .map(|seed| {
            let kind = CanalKind::ALL[(seed / 2 % 4) as usize];
            let spec = PhantomSpec::of_families(families, seed % 2 == 1, kind, seed);
            examine(&spec, asked)
        })
        .collect();
    if arguments.each {
        for o in &outcomes {
            println!("{o:?}");
        }
    }
    for (title, cluttered) in [("tidy", false), ("cluttered", true)] {
        let of: Vec<&Outcome> = outcomes
            .iter()
            .filter(|o| o.cluttered == cluttered)
            .collect();
        table(title, &of);
    }
    table("all", &outcomes.iter().collect::<Vec<_>>());
    let files = || outcomes.iter().flat_map(|o| &o.files).filter(|f| f.found);
    let tips: Vec<(f64, bool)> = files()
        .map(|f| (f.confidence, f.tip_visible && f.tip_mm <= 0.15))
        .collect();
    reliability("tips", &tips);
    let stops: Vec<(f64, bool)> = files()
        .filter(|f| f.stop_mm.is_some())
        .map(|f| (f.stop_confidence, f.stop_mm.is_some_and(|mm| mm <= 0.2)))
        .collect();
    reliability("stops claimed", &stops);
    let apices: Vec<(f64, bool)> = outcomes.iter().flat_map(|o| o.apices.clone()).collect();
    reliability("apices", &apices);
    let paths: Vec<(f64, bool)> = outcomes
        .iter()
        .filter_map(|o| o.path.as_ref())
        .map(|p| (p.confidence, p.mean_mm <= 0.08 && p.p95_mm <= 0.2))
        .collect();
    reliability("canal paths", &paths);
    if arguments.tip_shows {
        tips_by_what_shows(&outcomes);
    }
}
