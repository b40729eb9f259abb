//! Coverage and bias of the stated intervals on phantom geometries: the tables
//! of docs/accuracy.md.
//!
//! ```text
//! cargo run --release --example coverage            # 1500 films a kind
//! cargo run --release --example coverage -- --films 300
//! cargo run --release --example coverage -- --canals 200 --draws 500
//! ```
//!
//! With `--canals` the tables of canals of any shape: intervals of each shape,
//! lengths and the number of points, scatter beyond the noise stated, and
//! classes of canals with a recurve; `--table` prints one of them.

#[path = "family_study.rs"]
mod families;
#[path = "coverage_study.rs"]
mod study;
#[path = "trace_study.rs"]
mod traces;

use clap::{Parser, ValueEnum};
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
    /// With `--canals`, the one table to print.
    #[arg(long, requires = "canals")]
    table: Option<Table>,
    /// Threads; all of the machine's where it is left out.
    #[arg(long)]
    threads: Option<usize>,
}

/// The tables of canals of any shape.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Table {
    Shapes,
    Lengths,
    Scatter,
    Recurves,
}

fn main() {
    let arguments = Arguments::parse();
    let threads = arguments.threads.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
    pool.build_global().expect("threads");
    let settings = MeasureSettings {
        draws: arguments.draws,
        stop_when_settled: arguments.until_settled,
        ..MeasureSettings::default()
    };
    match arguments.canals {
        Some(canals) => {
            let tables = Table::value_variants();
            let asked = tables
                .iter()
                .filter(|table| arguments.table.is_none_or(|asked| asked == **table));
            for table in asked {
                match table {
                    Table::Shapes => println!("{}", families::table(canals, &settings)),
                    Table::Lengths => println!("{}", traces::lengths(canals)),
                    Table::Scatter => println!("{}", traces::scatter(canals, &settings)),
                    Table::Recurves => println!("{}", traces::recurves(canals, &settings)),
                }
            }
        }
        None => print!("{}", study::tables(arguments.films, &settings)),
    }
}
