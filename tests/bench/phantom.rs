//! Time to render one film of 1368 × 1840 px.

use criterion::{Criterion, criterion_group, criterion_main};
use lengthfilm::phantom::{CanalKind, PhantomSpec, render};

fn films(c: &mut Criterion) {
    let mut group = c.benchmark_group("phantom");
    group.sample_size(10);
    let molar = PhantomSpec::default();
    let detector = molar.detector.clone();
    group.bench_function("molar, 1368 x 1840", |b| b.iter(|| render(&molar)));
    let random = PhantomSpec {
        detector,
        ..PhantomSpec::random(CanalKind::SShaped, 3)
    };
    group.bench_function("random S, 1368 x 1840", |b| b.iter(|| render(&random)));
    group.finish();
}

criterion_group!(benches, films);
criterion_main!(benches);
