//! Speed of many cases at once, as `lengthfilm measure` takes them: each case
//! read from its file, each film opened once, all cores. 20 cases a run, of one
//! film and of five; drawn until settled, as that command does, with the full
//! 10,000 draws and with the linear law alone.
//! The target is 1,000 cases in 10 s: 100 cases/s.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use lengthfilm::case;
use lengthfilm::film::FilmCache;
use lengthfilm::measure::{MeasureSettings, Precision, measure_file};
use rayon::prelude::*;

const CASES: usize = 20;

/// Case files of the samples in turn, `films` of them, each with a seed of its
/// own.
fn case_files(folder: &Path, films: usize) -> Vec<PathBuf> {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    let mut sources: Vec<PathBuf> = std::fs::read_dir(samples)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.to_string_lossy().ends_with(".case.json"))
        .collect();
    sources.sort();
    let write = |number: usize| {
        let source = &sources[number % films];
        let mut case = case::load(source).unwrap();
        case.film.path = case::film_path(&case, source).display().to_string();
        case.seed = number as u64;
        let path = folder.join(format!("{number}.case.json"));
        case::save(&case, &path).unwrap();
        path
    };
    (0..CASES).map(write).collect()
}

fn batch(c: &mut Criterion) {
    let mut group = c.benchmark_group("batch");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(20))
        .throughput(Throughput::Elements(CASES as u64));
    for films in [1, 5] {
        let folder = tempfile::tempdir().unwrap();
        let files = case_files(folder.path(), films);
        for (name, precision, stop_when_settled) in [
            ("linear law", Precision::Live, false),
            ("until settled", Precision::Full, true),
            ("full", Precision::Full, false),
        ] {
            let settings = MeasureSettings {
                precision,
                stop_when_settled,
                ..MeasureSettings::default()
            };
            group.bench_function(BenchmarkId::new(name, format!("{films} film(s)")), |b| {
                b.iter(|| {
                    let cache = FilmCache::default();
                    let measured: Vec<_> = files
                        .par_iter()
                        .map(|path| measure_file(path, &cache, &settings).unwrap())
                        .collect();
                    black_box(measured)
                })
            });
        }
    }
    group.finish();
}

criterion_group!(benches, batch);
criterion_main!(benches);
