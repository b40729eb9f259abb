//! Coverage and error of widths, removal and transport on pairs of practice
//! blocks: the tables of docs/before-after.md.
//!
//! ```text
//! cargo run --release --example shaping_coverage            # 300 pairs each
//! cargo run --release --example shaping_coverage -- --pairs 30
//! ```

#[path = "../support/block_pairs.rs"]
mod block_pairs;

use block_pairs::{CLICK_MM, clicked, photographed, study, table};
use clap::Parser;
use lengthfilm::phantom::block::BlockSpec;

#[derive(Parser)]
struct Arguments {
    /// Pairs of each kind.
    #[arg(long, default_value_t = 300)]
    pairs: u64,
    /// Monte Carlo draws of each pair.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
}

fn main() {
    let arguments = Arguments::parse();
    let specs = || (1..=arguments.pairs).map(BlockSpec::random);
    for (title, own_scale) in [
        ("clicked, scale of the second film from the marks", false),
        ("clicked, each film with a scale of its own", true),
    ] {
        let pairs = specs().map(|spec| {
            let pair = clicked(&spec, CLICK_MM, own_scale);
            (spec, pair)
        });
        println!("{}", table(title, &study(pairs, arguments.draws)));
    }
    let pairs = specs().filter_map(|spec| {
        let pair = photographed(&spec)?;
        Some((spec, pair))
    });
    println!(
        "{}",
        table(
            "photographed, made flat, walls followed",
            &study(pairs, arguments.draws)
        )
    );
}
