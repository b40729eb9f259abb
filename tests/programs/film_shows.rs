//! Whether `measure` says rightly that a canal's apical third does or does not
//! show: phantom films with open canals and with canals that close over their last 12 mm.
//!
//! ```text
//! cargo run --release --example film_shows -- --films 120
//! ```

use std::sync::Arc;

use clap::Parser;
use lengthfilm::film_check::FilmSketch;
use lengthfilm::measure::{FilmSummary, MeasureSettings, Precision, measure};
use lengthfilm::phantom::{CanalKind, Families, PhantomSpec, case_from_truth, render};
use rayon::prelude::*;

#[derive(Parser)]
struct Arguments {
    #[arg(long, default_value_t = 120)]
    films: u64,
}

/// Share of the apical third that shows.
fn shown(seed: u64, calcified_mm: f64) -> Option<f64> {
    let kind = CanalKind::ALL[(seed % 4) as usize];
    let mut spec = PhantomSpec::of_families(Families::Test, false, kind, 8_600_000 + seed);
    spec.file = None;
    spec.canal.calcified_apical_mm = calcified_mm;
    let phantom = render(&spec).expect("the drawn spec can be rendered");
    let film = FilmSummary {
        width_px: phantom.film.width_px(),
        height_px: phantom.film.height_px(),
        scale: Default::default(),
        sha256: String::new(),
        sketch: Some(Arc::new(FilmSketch::of(&phantom.film))),
    };
    let case = case_from_truth(&phantom.truth, "film.png", None, 0.05, seed);
    let settings = MeasureSettings {
        precision: Precision::ValuesOnly,
        ..MeasureSettings::default()
    };
    let found = measure(&case, &film, "film", &settings).expect("measurable");
    found.film_check?.canals.first()?.apical_third_shown
}

fn main() {
    let films = Arguments::parse().films;
    for (name, calcified_mm) in [("open", 0.0), ("closing over 12 mm", 12.0)] {
        let mut shares: Vec<f64> = (0..films)
            .into_par_iter()
            .filter_map(|seed| shown(seed, calcified_mm))
            .collect();
        shares.sort_by(f64::total_cmp);
        let count = |of: &dyn Fn(f64) -> bool| shares.iter().filter(|s| of(**s)).count();
        let at = |q: f64| shares.get((q * (shares.len().max(1) - 1) as f64) as usize);
        println!(
            "{name}: {} films; not shown {}, weakly {}, shown {}; quantiles 5, 25, 50, 75, 95 %: {:?}",
            shares.len(),
            count(&|s| s < 0.2),
            count(&|s| (0.2..0.5).contains(&s)),
            count(&|s| s >= 0.5),
            [0.05, 0.25, 0.5, 0.75, 0.95].map(at),
        );
    }
}
