//! The targets of `tests/programs/fuzz.rs` for a few seconds, so that none rots.

#[path = "../support/fuzz.rs"]
mod targets;

use std::time::{Duration, Instant};

use targets::{Corpus, PARSERS, WORKERS};

/// Inputs that only read; those that work get a fiftieth.
const COUNT: u64 = 1500;
/// Time for each target, on a slow machine.
const MOST: Duration = Duration::from_secs(6);

#[test]
fn broken_inputs_neither_panic_nor_hang() {
    let corpus = Corpus::load();
    assert_eq!(targets::formats(&corpus).len(), 5, "every format is there");
    let readers = PARSERS.map(|target| (target, COUNT));
    let workers = WORKERS.map(|target| (target, COUNT / 50));
    for (target, count) in readers.into_iter().chain(workers) {
        let tally = targets::run(&corpus, target, 1, 0, count, 2, Instant::now() + MOST);
        assert_eq!(tally.panics, Vec::<u64>::new(), "{}", target.0);
        assert_eq!(tally.hangs, 0, "{}: {:?}", target.0, tally.slowest);
        assert!(tally.taken > 0, "{}: some inputs are sound", target.0);
        assert!(tally.taken < tally.executions, "{}: some are not", target.0);
        println!("{}: {:?}", target.0, tally);
    }
}
