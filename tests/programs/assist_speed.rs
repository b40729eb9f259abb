//! Times the assistant on one raster, for `tests/scripts/bench_trace.py`:
//! reads raw little-endian `f32` values, writes the ridge response beside
//! them and the best times as JSON.

use std::path::PathBuf;
use std::time::Instant;

use clap::Parser;
use lengthfilm::assist::path::cheapest_path;
use lengthfilm::assist::raster::Raster;
use lengthfilm::assist::ridge::{RidgeKind, ridge_response};
use lengthfilm::progress::Progress;

#[derive(Parser)]
struct Arguments {
    /// Row-major `f32`, little-endian.
    raw: PathBuf,
    #[arg(long)]
    width: usize,
    #[arg(long, value_delimiter = ',')]
    sigmas_px: Vec<f64>,
    /// Where the response goes, in the same form.
    #[arg(long)]
    response: Option<PathBuf>,
    /// Raw costs of the same shape for the path, and its ends `x,y,x,y`.
    #[arg(long)]
    costs: Option<PathBuf>,
    #[arg(long, value_delimiter = ',')]
    ends: Vec<usize>,
    #[arg(long, default_value_t = 2)]
    threads: usize,
    #[arg(long, default_value_t = 7)]
    repeats: usize,
}

fn read_raster(path: &PathBuf, width: usize) -> Result<Raster, Box<dyn std::error::Error>> {
    let bytes = std::fs::read(path)?;
    let (quads, _) = bytes.as_chunks::<4>();
    let values: Vec<f32> = quads.iter().map(|&b| f32::from_le_bytes(b)).collect();
    let height = values.len() / width;
    Raster::from_values(width, height, values).ok_or_else(|| "size and width differ".into())
}

/// Shortest wall time of `repeats` runs, ms, and the last run's result.
fn best_ms<T>(repeats: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let mut timed = || {
        let start = Instant::now();
        let result = run();
        (start.elapsed().as_secs_f64() * 1e3, result)
    };
    let (mut best, mut result) = timed();
    for _ in 1..repeats {
        let (ms, again) = timed();
        best = best.min(ms);
        result = again;
    }
    (best, result)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::parse();
    rayon::ThreadPoolBuilder::new()
        .num_threads(arguments.threads)
        .build_global()?;
    let progress = Progress::unwatched();
    let raster = read_raster(&arguments.raw, arguments.width)?;
    let (ridge_ms, response) = best_ms(arguments.repeats, || {
        ridge_response(&raster, &arguments.sigmas_px, RidgeKind::Dark, &progress)
    });
    let response = response?;
    if let Some(path) = &arguments.response {
        let bytes: Vec<u8> = response
            .values()
            .iter()
            .flat_map(|v| v.to_le_bytes())
            .collect();
        std::fs::write(path, bytes)?;
    }
    let mut line = serde_json::json!({ "ridge_ms": ridge_ms });
    if let (Some(path), &[x0, y0, x1, y1]) = (&arguments.costs, &arguments.ends[..]) {
        let costs = read_raster(path, arguments.width)?;
        let (path_ms, path) = best_ms(arguments.repeats, || {
            cheapest_path(&costs, (x0, y0), (x1, y1), &progress)
        });
        line["path_ms"] = path_ms.into();
        line["path_cost"] = path?.cost.into();
    }
    println!("{line}");
    Ok(())
}
