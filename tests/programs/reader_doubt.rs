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

/// A press this near to another file could mean that one, mm.
const APART_MM: f64 = 0.4;

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
    let files: Vec<_> = first.chain(others).collect();
    for (k, (line, tip, tip_visible, stop, stop_share)) in files.iter().copied().enumerate() {
        // A press where this file lies on the film and apart from the others:
        // elsewhere nobody can tell which one is meant.
        let apart = |p: &FilmPoint| {
            let others = files.iter().enumerate().filter(|(other, _)| *other != k);
            let mut places = others.flat_map(|(_, other)| other.0);
            places.all(|q| q.distance_px(*p) * mm_per_px >= APART_MM)
        };
        let on_film = |p: &FilmPoint| {
            let p = strange.place(*p);
            (0.0..=f64::from(film.width_px())).contains(&p.x)
                && (0.0..=f64::from(film.height_px())).contains(&p.y)
        };
        let shown = (line.len() / 5..line.len() * 9 / 10)
            .filter(|i| on_film(&line[*i]) && apart(&line[*i]));
        let shown: Vec<usize> = shown.collect();
        if shown.is_empty() {
            continue;
        }
        let pick = ((seed * 7 + 31 * k as u64) % 17) as usize * (shown.len() - 1) / 16;
        let mut near = strange.place(line[shown[pick]]);
        // About 0.15 mm aside, as presses are.
        let turn = (seed % 12) as f64 * std::f64::consts::FRAC_PI_6;
        near.x += 0.15 / mm_per_px * turn.cos();
        near.y += 0.15 / mm_per_px * turn.sin();
        let options = LocateOptions {
            mm_per_px: Some(pitch_mm),
        };
        let Ok(found) = locate_file(film, near, &options, &progress) else {
            continue;
        };
        let said = found.evidence;
        let ends = [
            (
                "tip",
                said.tip,
                Some(found.tip_px),
                strange.place(tip),
                f64::from(u8::from(tip_visible)),
                found.confidence,
            ),
            (
                "stop",
                said.stop,
                found.points_px.first().copied(),
                strange.place(stop),
                stop_share,
                found.stop_confidence,
            ),
        ];
        for (sign, end, place, true_place, visible, stated) in ends {
            let Some(place) = place.filter(|_| stated > 0.0) else {
                continue;
            };
            let more = json!({
                "sign": sign, "off_mm": place.distance_px(true_place) * mm_per_px,
                "visible": visible, "stated": stated, "files": files.len(),
                "along": end.along, "value": end.value, "rival": end.rival,
                "stop_rival": said.stop.rival, "likeness": said.likeness,
            });
            lines.push(with(more, common.clone()));
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
