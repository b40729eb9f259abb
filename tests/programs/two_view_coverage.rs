//! Coverage and bias of what two films say together, on phantom teeth exposed
//! twice: the tables of docs/two-views.md.
//!
//! ```text
//! cargo run --release --example two_view_coverage
//! cargo run --release --example two_view_coverage -- --pairs 50 --angles 20
//! cargo run --release --example two_view_coverage -- --without clicks,scales,angles,detector
//! cargo run --release --example two_view_coverage -- --shapes --pairs 26
//! ```
//!
//! `--without` leaves errors out: what is then still off is the model's own.

#[path = "two_view_study.rs"]
#[allow(dead_code, reason = "shared with the tests")]
mod study;

#[path = "two_view_shapes.rs"]
mod shapes;

use clap::{Parser, ValueEnum};
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
    /// Number of the first pair.
    #[arg(long, default_value_t = 0)]
    first: u64,
    /// Errors that the pairs do not have; their intervals stay as they are.
    #[arg(long, value_delimiter = ',')]
    without: Vec<ErrorKind>,
    /// The receptor stays, the tube moves.
    #[arg(long)]
    stayed: bool,
    /// Canals that are no straight pieces and arcs, with every error.
    #[arg(long, conflicts_with_all = ["without", "stayed"])]
    shapes: bool,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ErrorKind {
    Clicks,
    Scales,
    Angles,
    Detector,
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
    let share = |kind| match arguments.without.contains(&kind) {
        true => 0.0,
        false => 1.0,
    };
    let errors = study::Errors {
        clicks: share(ErrorKind::Clicks),
        scales: share(ErrorKind::Scales),
        angles: share(ErrorKind::Angles),
        detector: share(ErrorKind::Detector),
    };
    let numbers = arguments.first..arguments.first + arguments.pairs;
    if arguments.shapes {
        print!("{}", shapes::tables(numbers, &arguments.angles, &settings));
        return;
    }
    print!(
        "{}",
        study::tables(numbers, &arguments.angles, receptor, errors, &settings)
    );
}
