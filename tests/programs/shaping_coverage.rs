//! Coverage and error of widths, removal and transport on pairs of practice
//! blocks: the tables of docs/before-after.md.
//!
//! ```text
//! cargo run --release --example shaping_coverage            # 300 pairs each
//! cargo run --release --example shaping_coverage -- --pairs 30
//! cargo run --release --example shaping_coverage -- --matched
//! ```

#[path = "../support/block_pairs.rs"]
mod block_pairs;

use block_pairs::{CLICK_MM, clicked, matched, photographed, study, table};
use clap::Parser;
use lengthfilm::phantom::block::BlockSpec;
use lengthfilm::shaping::Picture;

#[derive(Parser)]
struct Arguments {
    /// Pairs of each kind.
    #[arg(long, default_value_t = 300)]
    pairs: u64,
    /// Monte Carlo draws of each pair.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
    /// Instead: pairs whose marks were matched by the pictures.
    #[arg(long)]
    matched: bool,
}

fn main() {
    let arguments = Arguments::parse();
    if arguments.matched {
        return of_matched_marks(&arguments);
    }
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
        let pair = photographed(&spec, false)?;
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

fn of_matched_marks(arguments: &Arguments) {
    type Made = fn(&BlockSpec) -> Option<[Picture; 2]>;
    let kinds: [(&str, Made); 2] = [
        ("scanned, walls clicked, marks matched", |spec| {
            matched(spec, CLICK_MM, false)
        }),
        (
            "photographed, made flat, walls followed, marks matched",
            |spec| photographed(spec, true),
        ),
    ];
    for (title, made) in kinds {
        let mut count = 0;
        let pairs = (1..=arguments.pairs).filter_map(|seed| {
            let spec = BlockSpec::random(seed);
            let pair = made(&spec)?;
            count += 1;
            Some((spec, pair))
        });
        let tallies = study(pairs, arguments.draws);
        println!("{}", table(&format!("{title} ({count} pairs)"), &tallies));
    }
}
