//! Coverage and bias of the stated intervals on phantom geometries: the tables
//! of docs/uncertainty.md.
//!
//! ```text
//! cargo run --release --example coverage            # 1000 films a kind
//! cargo run --release --example coverage -- --films 500 --draws 2000
//! ```

#[path = "coverage_study.rs"]
mod study;

use clap::Parser;
use lengthfilm::measure::Settings;

#[derive(Parser)]
struct Arguments {
    /// Films of each kind and scale.
    #[arg(long, default_value_t = 1000)]
    films: u64,
    /// Monte Carlo draws of each film.
    #[arg(long, default_value_t = 10_000)]
    draws: usize,
}

fn main() {
    let arguments = Arguments::parse();
    let settings = Settings {
        draws: arguments.draws,
        ..Settings::default()
    };
    print!("{}", study::tables(arguments.films, &settings));
}
