//! Coverage and bias of the stated intervals on phantom geometries: the tables
//! of docs/accuracy.md.
//!
//! ```text
//! cargo run --release --example coverage            # 1500 films a kind
//! cargo run --release --example coverage -- --films 300
//! cargo run --release --example coverage -- --canals 200   # of each shape
//! ```

#[path = "family_study.rs"]
mod families;
#[path = "coverage_study.rs"]
mod study;

use clap::Parser;
use lengthfilm::measure::MeasureSettings;

#[derive(Parser)]
struct Arguments {
    /// Films of each kind and scale.
    #[arg(long, default_value_t = 1500)]
    films: u64,
    /// Monte Carlo draws of each film.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
    /// Stop the draws of a film when its intervals are settled, as batches do;
    /// `draws` is then the most of them.
    #[arg(long)]
    until_settled: bool,
    /// Canals of each shape, number of points and noise, in place of the films.
    #[arg(long)]
    canals: Option<u64>,
}

fn main() {
    let arguments = Arguments::parse();
    let settings = MeasureSettings {
        draws: arguments.draws,
        stop_when_settled: arguments.until_settled,
        ..MeasureSettings::default()
    };
    match arguments.canals {
        Some(canals) => print!("{}", families::table(canals, &settings)),
        None => print!("{}", study::tables(arguments.films, &settings)),
    }
}
