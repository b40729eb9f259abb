//! What the film reader's copies of a film say of the places it finds, and how
//! far those lie from the truth, on phantom films made strange. One line of
//! JSON a place; `tests/scripts/fit_doubt.py` fits the confidences to them.
//!
//! ```text
//! cargo run --release --example reader_doubt -- fitting --films 600
//! cargo run --release --example reader_doubt -- check --films 400
//! ```
//!
//! `fitting` changes films of the tuning set, `check` those of the test set;
//! the changes have no kind in common. `plain` leaves tuning films as they are.

#[path = "../support/strange.rs"]
mod strange;

use clap::{Parser, ValueEnum};
use lengthfilm::assist::raster::Region;
use lengthfilm::assist::reader::{FilmReading, Peak, Presses, Sign};
use lengthfilm::assist::{LocateOptions, locate_file};
use lengthfilm::phantom::{CanalKind, Families, Phantom, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rayon::prelude::*;
use serde_json::{Value, json};
use strange::{Changes, Strange, strange};

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Set {
    Plain,
    Fitting,
    Check,
}

#[derive(Parser)]
struct Arguments {
    #[arg(value_enum)]
    set: Set,
    #[arg(long, default_value_t = 600)]
    films: u64,
    #[arg(long, default_value_t = 0)]
    skip: u64,
}

/// Peaks lower than this are never offered.
const LEAST_APEX: f32 = 0.06;

/// As in `src/assist/doubt.rs`.
const RIVAL_MM: f64 = 3.0;

fn nearest_mm(p: FilmPoint, of: &[FilmPoint], mm_per_px: f64) -> f64 {
    of.iter()
        .map(|q| q.distance_px(p) * mm_per_px)
        .fold(1e3, f64::min)
}

/// The evidence at a place.
fn evidence(reading: &FilmReading, sign: Sign, place: FilmPoint, mm_per_px: f64) -> Value {
    let copies = reading.copies_at(sign, place);
    let squares = copies.iter().map(|c| c.place.distance_px(place).powi(2));
    let spread_px = (squares.sum::<f64>() / copies.len() as f64).sqrt();
    json!({
        "value": reading.at(sign, place), "spread_mm": spread_px * mm_per_px,
        "logits": copies.iter().map(|c| c.logit).collect::<Vec<_>>(),
        "clearest_cells": reading.clearest_cells, "likeness": reading.likeness,
    })
}

fn with(mut value: Value, more: Value) -> Value {
    if let (Some(all), Value::Object(more)) = (value.as_object_mut(), more) {
        all.extend(more);
    }
    value
}

fn places(strange: &Strange, truth: &Truth, other: &Phantom, seed: u64) -> Vec<Value> {
    let film = &strange.film;
    let mm_per_px = truth.mm_per_px[0];
    let pitch_mm = truth.pixel_pitch_mm[0];
    let progress = Progress::unwatched();
    let region = Region::whole(film);
    let read = |presses: &Presses| {
        FilmReading::of(film, region, pitch_mm, presses, &progress).expect("not cancelled")
    };
    let common = json!({ "film": seed, "changes": strange.changes });
    let mut lines = Vec::new();
    let whole = read(&Presses::default());
    let own = truth.roots.iter().map(|r| strange.place(r.apex_px));
    let others = other.truth.roots.iter();
    let others = others.flat_map(|r| strange.places_of_other(r.apex_px, &other.film));
    let apices: Vec<FilmPoint> = own.chain(others).collect();
    let peaks = whole.peaks(Sign::Apex, LEAST_APEX);
    let rival_px = RIVAL_MM / pitch_mm;
    for peak in &peaks {
        let near = |p: &&Peak| (1e-9..rival_px).contains(&p.place.distance_px(peak.place));
        let rival = peaks.iter().filter(near).map(|p| p.value);
        let rival = rival.fold(0.0, f32::max) / peak.value;
        let off = nearest_mm(peak.place, &apices, mm_per_px);
        let more = json!({ "sign": "apex", "off_mm": off, "peak": peak.value, "rival": rival });
        let line = with(evidence(&whole, Sign::Apex, peak.place, mm_per_px), more);
        lines.push(with(line, common.clone()));
    }
    let first = truth.file.iter();
    let first = first.map(|f| {
        (
            &f.centre_line_px,
            f.tip_px,
            f.tip_visible,
            f.stop_px,
            f.stop_visible_share,
        )
    });
    let others = truth.second_files.iter();
    let others = others.map(|f| {
        (
            &f.centre_line_px,
            f.tip_px,
            f.tip_visible,
            f.stop_px,
            f.stop_visible_share,
        )
    });
    for (k, (line, tip, tip_visible, stop, stop_share)) in first.chain(others).enumerate() {
        let share = 0.3 + 0.5 * ((seed + 31 * k as u64) % 17) as f64 / 17.0;
        let near = strange.place(line[(share * (line.len() - 1) as f64) as usize]);
        let options = LocateOptions {
            mm_per_px: Some(pitch_mm),
        };
        let Ok(found) = locate_file(film, near, &options, &progress) else {
            continue;
        };
        let pressed = read(&Presses {
            file: Some(near),
            canal: &[],
        });
        let (tip, stop) = (strange.place(tip), strange.place(stop));
        let more = json!({
            "sign": "tip", "off_mm": found.tip_px.distance_px(tip) * mm_per_px,
            "visible": f64::from(u8::from(tip_visible)), "stated": found.confidence,
        });
        let at_tip = evidence(&pressed, Sign::Tip, found.tip_px, mm_per_px);
        lines.push(with(with(at_tip, more), common.clone()));
        if found.stop_confidence > 0.0 {
            let place = found.points_px[0];
            let more = json!({
                "sign": "stop", "off_mm": place.distance_px(stop) * mm_per_px,
                "visible": stop_share, "stated": found.stop_confidence,
            });
            let at_stop = evidence(&pressed, Sign::Stop, place, mm_per_px);
            lines.push(with(with(at_stop, more), common.clone()));
        }
    }
    lines
}

fn main() {
    let arguments = Arguments::parse();
    let (families, first, changes) = match arguments.set {
        Set::Plain => (Families::Tuning, 2_000_000, Changes::None),
        Set::Fitting => (Families::Tuning, 3_000_000, Changes::Fitting),
        Set::Check => (Families::Test, 8_000_000, Changes::Check),
    };
    let first = first + arguments.skip;
    (first..first + arguments.films)
        .into_par_iter()
        .for_each(|seed| {
            let draw = |seed: u64| {
                let kind = CanalKind::ALL[(seed / 2 % 4) as usize];
                let mut spec = PhantomSpec::of_families(families, seed % 2 == 1, kind, seed);
                // Near the reader's own cells: finer pixels tell it nothing more.
                let detector = &mut spec.detector;
                let pitch_mm = 0.03 + 0.015 * (seed % 7) as f64 / 6.0;
                let scale = detector.pixel_pitch_mm[0] / pitch_mm;
                detector.width_px = (f64::from(detector.width_px) * scale) as u32;
                detector.height_px = (f64::from(detector.height_px) * scale) as u32;
                detector.photons = detector.photons.map(|p| p / (scale * scale));
                detector.pixel_pitch_mm = [pitch_mm; 2];
                render(&spec).expect("the drawn spec can be rendered")
            };
            let own = draw(seed);
            let other = if changes == Changes::Fitting {
                draw(seed + 500_000)
            } else {
                own.clone()
            };
            let made = strange(
                &own.film,
                &other.film,
                own.truth.mm_per_px[0],
                changes,
                seed,
            );
            for line in places(&made, &own.truth, &other, seed) {
                println!("{line}");
            }
        });
}
