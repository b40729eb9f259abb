//! Speed of comparing traces: the target is 10,000 traces in under 2 s on two
//! cores, 400 µs of one core per trace.

use std::hint::black_box;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use kurbo::Point;
use lengthfilm::film::{Film, Polarity};
use lengthfilm::grading::{
    class::{class_statistics, grade_class},
    consensus::consensus,
    distances::{deviations, trace_distances},
    files::grade_files,
    path::MeasuredPath,
    reference::Reference,
    rubric::Rubric,
    submission::Submission,
};
use lengthfilm::measure::FilmSummary;
use lengthfilm::progress::Progress;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// A canal of 20 mm: 10 mm straight, then 10 mm turning by `turn_rad`, with
/// `segments` flattened pieces and a slow wobble of `wobble_mm`.
fn canal(turn_rad: f64, segments: usize, wobble_mm: f64) -> Vec<Point> {
    let step = 20.0 / segments as f64;
    let mut place = Point::ZERO;
    (0..=segments)
        .map(|i| {
            let s = i as f64 * step;
            let heading = turn_rad * ((s - 10.0) / 10.0).max(0.0);
            let shown = place + kurbo::Vec2::new(wobble_mm * (s * 0.9).sin(), 0.0);
            place += kurbo::Vec2::new(heading.sin(), heading.cos()) * step;
            shown
        })
        .collect()
}

fn class(count: usize, segments: usize) -> Vec<Vec<Point>> {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    (0..count)
        .map(|_| {
            canal(
                rng.random_range(0.3..0.9),
                segments,
                rng.random_range(0.0..0.4),
            )
        })
        .collect()
}

fn grading(c: &mut Criterion) {
    for segments in [60, 200] {
        let reference = MeasuredPath::new(&canal(0.6, segments, 0.0)).unwrap();
        let traces = class(10_000, segments);
        let mut next = traces.iter().cycle();
        c.bench_function(&format!("one trace, {segments} pieces"), |b| {
            b.iter_batched(
                || next.next().unwrap(),
                |points| {
                    let trace = MeasuredPath::new(points).unwrap();
                    let distances = trace_distances(&reference, &trace);
                    black_box((distances, deviations(&reference, &trace, 101)))
                },
                BatchSize::SmallInput,
            )
        });
        let mut group = c.benchmark_group("class");
        group.sample_size(10);
        group.bench_function(format!("10,000 traces, {segments} pieces"), |b| {
            b.iter(|| {
                traces
                    .par_iter()
                    .map(|points| {
                        let trace = MeasuredPath::new(points).unwrap();
                        trace_distances(&reference, &trace).frechet
                    })
                    .sum::<f64>()
            })
        });
        group.finish();
    }
    // The worst the Fréchet distance can meet: every cell of the diagram is
    // within the leash.
    let reference = MeasuredPath::new(&canal(0.6, 60, 0.0)).unwrap();
    let backwards: Vec<Point> = canal(0.6, 60, 0.3).into_iter().rev().collect();
    c.bench_function("one trace drawn backwards, 60 pieces", |b| {
        b.iter(|| {
            trace_distances(
                &reference,
                &MeasuredPath::new(black_box(&backwards)).unwrap(),
            )
        })
    });
    let traces: Vec<MeasuredPath> = class(500, 60)
        .iter()
        .map(|points| MeasuredPath::new(points).unwrap())
        .collect();
    c.bench_function("consensus of 500 traces", |b| {
        b.iter(|| consensus(black_box(&traces), 200))
    });
}

/// A case of one canal at 20 px/mm.
fn case(points: &[Point]) -> serde_json::Value {
    let trace: Vec<[f64; 2]> = points
        .iter()
        .map(|p| [300.0 + 20.0 * p.x, 100.0 + 20.0 * p.y])
        .collect();
    serde_json::json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"},
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[20, 100], [20, 300]]}]},
        "canals": [{"name": "MB", "trace_px": trace}],
    })
}

/// The same from files: 10,000 cases of one folder on a film of 1000 × 1000 px.
fn whole_class_from_files(c: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let traces = folder.path().join("class");
    std::fs::create_dir(&traces).unwrap();
    let samples = (0..1_000_000).map(|i| (i % 65_521) as u16).collect();
    let film = Film::from_samples(1000, 1000, 16, Polarity::HighIsOpaque, samples).unwrap();
    for place in [folder.path(), &traces] {
        film.save_png16(&place.join("film.png")).unwrap();
    }
    let expert = folder.path().join("expert.case.json");
    std::fs::write(&expert, case(&canal(0.6, 9, 0.0)).to_string()).unwrap();
    for (index, points) in class(10_000, 9).iter().enumerate() {
        let path = traces.join(format!("s{index}.case.json"));
        std::fs::write(path, case(points).to_string()).unwrap();
    }
    let progress = Progress::unwatched();
    let rubric = Rubric::default();
    let mut group = c.benchmark_group("whole class");
    group.sample_size(10);
    group.bench_function("10,000 case files", |b| {
        b.iter(|| {
            let reference = std::slice::from_ref(&expert);
            let folders = std::slice::from_ref(&traces);
            let class = grade_files(reference, folders, &rubric, &progress).unwrap();
            assert_eq!(class.traces.len(), 10_000);
            class
        })
    });
    group.finish();
}

/// The whole of grading in memory: measured by every method, compared, held
/// against the rubric, class statistics.
fn whole_class(c: &mut Criterion) {
    let submission = |index: usize, points: &[Point]| {
        let case = serde_json::from_value(case(points)).unwrap();
        Submission::new(format!("s{index}.case.json"), case)
    };
    let film = FilmSummary {
        width_px: 1000,
        height_px: 1000,
        ..FilmSummary::default()
    };
    let expert = [submission(0, &canal(0.6, 9, 0.0))];
    let reference = Reference::new(&expert, film).unwrap();
    let rubric = Rubric::default();
    let submissions: Vec<Submission> = class(10_000, 9)
        .iter()
        .enumerate()
        .map(|(index, points)| submission(index + 1, points))
        .collect();
    let progress = Progress::unwatched();
    let mut group = c.benchmark_group("whole class");
    group.sample_size(10);
    group.bench_function("10,000 traces of 10 points", |b| {
        b.iter(|| {
            let graded = grade_class(&reference, &rubric, &submissions, &progress);
            assert_eq!(graded.traces.len(), 10_000);
            black_box(class_statistics(&reference, &rubric, &graded.traces))
        })
    });
    group.finish();
}

criterion_group!(benches, grading, whole_class, whole_class_from_files);
criterion_main!(benches);
