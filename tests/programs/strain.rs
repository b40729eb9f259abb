//! `cargo run --release --example strain -- [--films N] [--draws N] [--first N]`:
//! how often the stated intervals of the bending strain, and of where a file
//! binds, hold the truth.

mod strain_study;

use lengthfilm::phantom::CanalKind;
use strain_study::{Coverage, FilmOutcome, WallsSpec, coverage, coverage_study, study};

fn main() {
    let (mut first, mut films, mut draws) = (0, 800, 4000);
    let mut arguments = std::env::args().skip(1);
    while let (Some(name), Some(value)) = (arguments.next(), arguments.next()) {
        match name.as_str() {
            "--first" => first = value.parse().expect("a number"),
            "--films" => films = value.parse().expect("a number"),
            "--draws" => draws = value.parse().expect("a number"),
            other => panic!("{other}: not known"),
        }
    }
    let outcomes = study(first, films, draws, WallsSpec::CLICKED);
    type Of = fn(&FilmOutcome) -> Option<coverage_study::Outcome>;
    let results: [(&str, Of); 4] = [
        ("peak strain as projected, %", |o| o.peak),
        ("peak strain in space, %", |o| o.peak_in_space),
        ("place of the peak, mm", |o| o.place),
        ("25/.06 over 10/.02", |o| o.ratio),
    ];
    print_head("canal");
    let print = |words: &str, of_kind: &dyn Fn(&&FilmOutcome) -> bool| {
        for (name, of) in results {
            let found = coverage(outcomes.iter().filter(of_kind), of);
            print_row(words, name, found);
        }
    };
    for kind in CanalKind::ALL {
        print(coverage_study::kind_words(kind), &|o| o.kind == kind);
    }
    print("all", &|_| true);
    let withheld = outcomes.iter().filter(|o| o.withheld).count();
    println!("\nNo strain given: {withheld} of {}.\n", outcomes.len());
    print_head("walls");
    let followed = study(first, films, draws, WallsSpec::FOLLOWED);
    let results: [(&str, Of); 2] = [
        ("tip where 25/.06 binds, mm from the apex", |o| {
            o.binding_tip
        }),
        ("place of contact, mm from the apex", |o| o.contact),
    ];
    for (words, outcomes) in [("12 clicks each", &outcomes), ("followed", &followed)] {
        for (name, of) in results {
            let found = coverage(outcomes, of);
            print_row(words, name, found);
        }
    }
    let without = outcomes.iter().filter(|o| !o.has_widths).count();
    println!(
        "\nClicked walls that gave no widths: {without} of {}.",
        outcomes.len()
    );
}

fn print_head(of: &str) {
    println!("| {of} | result | n | coverage, % | median error | median U |");
    println!("|---|---|---|---|---|---|");
}

fn print_row(words: &str, result: &str, found: Coverage) {
    println!(
        "| {words} | {result} | {} | {:.1} | {:+.3} | {:.3} |",
        found.count,
        100.0 * found.share,
        found.median_error,
        found.median_u95
    );
}
