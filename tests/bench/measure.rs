//! Speed of measuring one canal: all numbers with linear uncertainty (target
//! below 1 ms, so that a dragged handle is followed at once) and 10,000 Monte
//! Carlo draws (target below 50 ms on two cores).

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use lengthfilm::measure::{FilmSummary, MeasureSettings, Precision, measure};
use lengthfilm::phantom::demo;

fn canal(c: &mut Criterion) {
    let case = demo().unwrap().case;
    let film = FilmSummary {
        width_px: 4000,
        height_px: 4000,
        ..FilmSummary::default()
    };
    let with = |precision| MeasureSettings {
        precision,
        ..MeasureSettings::default()
    };
    for (name, precision) in [
        ("one canal, linear law", Precision::Live),
        ("one canal, 10,000 draws", Precision::Full),
    ] {
        let settings = with(precision);
        c.bench_function(name, |b| {
            b.iter(|| black_box(measure(&case, &film, "bench", &settings).unwrap()))
        });
    }
}

criterion_group!(benches, canal);
criterion_main!(benches);
