//! Coverage and bias of what two films say together, on phantom teeth exposed
//! twice: the tables of docs/two-views.md.
//!
//! ```text
//! cargo run --release --example two_view_coverage
//! cargo run --release --example two_view_coverage -- --pairs 50 --angles 20
//! ```

#[path = "two_view_study.rs"]
mod study;

use clap::Parser;
use lengthfilm::measure::MeasureSettings;
use lengthfilm::two_view::Receptor;

#[derive(Parser)]
struct Arguments {
    /// Pairs of each kind of canal, angle and scale.
    #[arg(long, default_value_t = 250)]
    pairs: u64,
    /// Angles between the films, degrees.
    #[arg(long, value_delimiter = ',', default_value = "90,40,25,20")]
    angles: Vec<f64>,
    /// Monte Carlo draws of each pair.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
    /// The receptor stays, the tube moves.
    #[arg(long)]
    stayed: bool,
}

fn main() {
    let arguments = Arguments::parse();
    let settings = MeasureSettings {
        draws: arguments.draws,
        ..MeasureSettings::default()
    };
    let receptor = if arguments.stayed {
        Receptor::Stayed
    } else {
        Receptor::Turned
    };
    print!(
        "{}",
        study::tables(arguments.pairs, &arguments.angles, receptor, &settings)
    );
}
