//! Speed of the Monte Carlo engine itself: 10,000 draws of 40 normal inputs
//! with 40 outputs that cost nothing. The target is well under 20 ms on two
//! cores, so that a canal's own model may use the rest of 50 ms.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use lengthfilm::progress::Progress;
use lengthfilm::uncertainty::{
    inputs::{Input, InputSet},
    linear::LinearPropagation,
    monte_carlo::{Sampling, draw_outputs},
};

const QUANTITIES: usize = 40;

fn engine(c: &mut Criterion) {
    let inputs = InputSet::new(
        (0..QUANTITIES)
            .map(|i| Input::normal(format!("x{i}"), i as f64, 0.05))
            .collect(),
    )
    .unwrap();
    let settings = Sampling {
        draws: 10_000,
        seed: 1,
    };
    let draw = || {
        let progress = Progress::unwatched();
        draw_outputs(
            &inputs,
            QUANTITIES,
            settings,
            &progress,
            || (),
            |x, (), y| {
                y.copy_from_slice(x);
            },
        )
        .unwrap()
    };
    c.bench_function("10,000 draws, 40 inputs, 40 outputs", |b| {
        b.iter(|| black_box(draw()))
    });
    let draws = draw();
    c.bench_function("40 summaries of 10,000 draws", |b| {
        b.iter(|| black_box(draws.summaries()))
    });
    c.bench_function("draws and summaries", |b| {
        b.iter(|| black_box(draw().summaries()))
    });
    c.bench_function("linear law, 40 inputs, 40 outputs", |b| {
        b.iter(|| LinearPropagation::of_model(&inputs, QUANTITIES, |x, y| y.copy_from_slice(x)))
    });
}

criterion_group!(benches, engine);
criterion_main!(benches);
