//! Hands many broken inputs to everything that reads what others made, and
//! prints what became of them (docs/reliability.md).
//!
//! `cargo run --release --example fuzz -- [--target NAME] [--count N]
//! [--seconds S] [--seed N] [--first N] [--threads N]`. The count and the time
//! are those of each target; `--first N --count 1` repeats one input.

#[path = "../support/fuzz.rs"]
mod fuzz;

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use clap::Parser;

#[derive(Parser)]
struct Arguments {
    /// Only this target.
    #[arg(long)]
    target: Option<String>,
    /// Inputs of each target that only reads.
    #[arg(long, default_value_t = 100_000)]
    count: u64,
    /// Inputs of each target that works on what was read [default: a hundredth].
    #[arg(long)]
    work_count: Option<u64>,
    /// Most seconds for each target.
    #[arg(long, default_value_t = 600.0)]
    seconds: f64,
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[arg(long, default_value_t = 0)]
    first: u64,
    #[arg(long)]
    threads: Option<usize>,
}

/// Panics seen by anybody, those included that the library contains.
static PANICS: AtomicU64 = AtomicU64::new(0);

fn main() {
    let arguments = Arguments::parse();
    let is_quiet = arguments.count > 1;
    std::panic::set_hook(Box::new(move |panic| {
        PANICS.fetch_add(1, Ordering::Relaxed);
        if !is_quiet {
            eprintln!("{panic}");
        }
    }));
    let threads = arguments
        .threads
        .unwrap_or_else(|| std::thread::available_parallelism().map_or(1, std::num::NonZero::get));
    let corpus = fuzz::Corpus::load();
    assert_eq!(fuzz::formats(&corpus).len(), 5, "every format is there");
    println!(
        "seed {}, from input {}, {threads} threads\n",
        arguments.seed, arguments.first
    );
    println!(
        "| target | executions | taken | panics | contained | over 5 s | slowest | peak memory |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let work_count = arguments
        .work_count
        .unwrap_or(arguments.count.div_ceil(100));
    let readers = fuzz::PARSERS.map(|target| (target, arguments.count));
    let workers = fuzz::WORKERS.map(|target| (target, work_count));
    let (mut executions, mut failed) = (0, false);
    for (target, count) in readers.into_iter().chain(workers) {
        if arguments
            .target
            .as_ref()
            .is_some_and(|name| name != target.0)
        {
            continue;
        }
        let before = PANICS.load(Ordering::Relaxed);
        let until = Instant::now() + Duration::from_secs_f64(arguments.seconds);
        let tally = fuzz::run(
            &corpus,
            target,
            arguments.seed,
            arguments.first,
            count,
            threads,
            until,
        );
        let all = PANICS.load(Ordering::Relaxed) - before;
        let escaped = tally.panics.len() as u64;
        println!(
            "| {} | {} | {} | {escaped} | {} | {} | {:.0} ms (input {}) | {} |",
            target.0,
            tally.executions,
            tally.taken,
            all - escaped,
            tally.hangs,
            1000.0 * tally.slowest.1.as_secs_f64(),
            tally.slowest.0,
            peak_memory()
        );
        for index in tally.panics.iter().take(10) {
            println!("panic: --target '{}' --first {index} --count 1", target.0);
        }
        executions += tally.executions;
        failed |= escaped > 0 || tally.hangs > 0;
    }
    println!("\n{executions} executions in all");
    std::process::exit(i32::from(failed));
}

/// Most memory this process has had so far, where the system tells.
fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or("not known".to_owned(), |kib| {
        let kib: f64 = kib.trim().trim_end_matches(" kB").parse().unwrap_or(0.0);
        format!("{:.0} MB", kib / 1000.0)
    })
}
