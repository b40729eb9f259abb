//! Opening a 1.5-megapixel 16-bit film. Goal: under 50 ms.
//!
//! `tests/scripts/bench_open.py` writes the films and times other readers on
//! the same files in the same run; without Python only the formats written
//! here are measured.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::film::{self, Film, OpenLimits, Polarity};

const WIDTH_PX: u32 = 1500;
const HEIGHT_PX: u32 = 1000;

/// Times the other readers; false when Python or one of its modules is not
/// here.
fn other_readers_write_and_open(folder: &Path) -> bool {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scripts/bench_open.py");
    match Command::new("python3").arg(script).arg(folder).output() {
        Ok(output) if output.status.success() => {
            println!("{}", String::from_utf8_lossy(&output.stdout));
            true
        }
        _ => {
            println!("skipped: Python or a module of it is missing, no other reader is timed");
            false
        }
    }
}

fn write_own(folder: &Path) {
    let samples = (0..WIDTH_PX * HEIGHT_PX)
        .map(|i| {
            let (x, y) = (f64::from(i % WIDTH_PX), f64::from(i / WIDTH_PX));
            // A multiplicative hash for noise.
            let noise = f64::from(i.wrapping_mul(2_654_435_761) >> 23);
            (30000.0 + 15000.0 * (x / 90.0).sin() * (y / 70.0).cos() + noise) as u16
        })
        .collect();
    let film =
        Film::from_samples(WIDTH_PX, HEIGHT_PX, 16, Polarity::HighIsOpaque, samples).unwrap();
    film.save_png16(&folder.join("film.png")).unwrap();
    let facts = IntraOralFilm {
        imager_pixel_spacing_mm: [0.025, 0.025],
        source_to_detector_mm: None,
        source_to_patient_mm: None,
        estimated_magnification: None,
        tooth: lengthfilm::tooth::ToothNumber::parse(lengthfilm::tooth::ToothNotation::Fdi, "36")
            .expect("a tooth"),
        phantom_name: "PHANTOM".into(),
        seed: 1,
    };
    write_intra_oral(&folder.join("film.dcm"), &film, &facts).unwrap();
}

fn open_films(c: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    if !other_readers_write_and_open(folder.path()) {
        write_own(folder.path());
    }
    let mut paths: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let mut group = c.benchmark_group("open_film_1.5_megapixel_16_bit");
    group
        .sample_size(15)
        .measurement_time(Duration::from_secs(4));
    for path in paths {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        group.bench_with_input(BenchmarkId::from_parameter(name), &path, |b, path| {
            b.iter(|| film::open(path, &OpenLimits::default()).unwrap());
        });
    }
    group.finish();
}

criterion_group!(benches, open_films);
criterion_main!(benches);
