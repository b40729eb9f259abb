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
#[path = "../support/strip_trial.rs"]
mod strip_trial;

use clap::{Parser, ValueEnum};
use lengthfilm::assist::raster::Region;
use lengthfilm::assist::reader::{FilmReading, Peak, Presses, Sign};
use lengthfilm::assist::{LocateOptions, weighed_files};
use lengthfilm::phantom::{CanalKind, Families, Phantom, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rayon::prelude::*;
use serde_json::{Value, json};
use strange::{Changes, Strange, strange};
use strip_trial::StripTrial;

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
    #[command(flatten)]
    strips: StripTrial,
    /// Only the files: no apices.
    #[arg(long)]
    files: bool,
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

/// 95th percentile of the distance of a found line from the true one, mm.
fn line_off_mm(found: &[FilmPoint], truth: impl Iterator<Item = FilmPoint>, mm_per_px: f64) -> f64 {
    let truth: Vec<FilmPoint> = truth.collect();
    let mut off: Vec<f64> = found
        .iter()
        .map(|p| nearest_mm(*p, &truth, mm_per_px))
        .collect();
    off.sort_by(f64::total_cmp);
    off.get(off.len() * 19 / 20).copied().unwrap_or(0.0)
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

/// What stands on every line: the film, and what it is like.
fn common(strange: &Strange, truth: &Truth, seed: u64) -> Value {
    let clutter = &truth.spec.clutter;
    let noises = clutter.noise.iter().map(|n| n.spectrum);
    json!({
        "film": seed, "changes": strange.changes, "bone": clutter.bone,
        "stop_form": clutter.stop.form, "noises": noises.collect::<Vec<_>>(),
        "clamp": clutter.clamp.is_some(),
    })
}

/// The root ends that the reader names on the whole film.
fn apices(strange: &Strange, truth: &Truth, other: &Phantom, common: &Value) -> Vec<Value> {
    let film = &strange.film;
    let (mm_per_px, pitch_mm) = (truth.mm_per_px[0], truth.pixel_pitch_mm[0]);
    let whole = FilmReading::of(
        film,
        Region::whole(film),
        pitch_mm,
        &Presses::default(),
        &Progress::unwatched(),
    )
    .expect("not cancelled");
    let own = truth.roots.iter().map(|r| strange.place(r.apex_px));
    let others = other.truth.roots.iter();
    let others = others.flat_map(|r| strange.places_of_other(r.apex_px, &other.film));
    let ends: Vec<FilmPoint> = own.chain(others).collect();
    let peaks = whole.peaks(Sign::Apex, LEAST_APEX);
    let rival_px = RIVAL_MM / pitch_mm;
    let line = |peak: &Peak| {
        let near = |p: &&Peak| (1e-9..rival_px).contains(&p.place.distance_px(peak.place));
        let rival = peaks.iter().filter(near).map(|p| p.value);
        let rival = rival.fold(0.0, f32::max) / peak.value;
        let off = nearest_mm(peak.place, &ends, mm_per_px);
        let more = json!({ "sign": "apex", "off_mm": off, "peak": peak.value, "rival": rival });
        let line = with(evidence(&whole, Sign::Apex, peak.place, mm_per_px), more);
        with(line, common.clone())
    };
    peaks.iter().map(line).collect()
}

/// What a press on each file is told.
fn files(strange: &Strange, truth: &Truth, common: &Value, seed: u64) -> Vec<Value> {
    let film = &strange.film;
    let (mm_per_px, pitch_mm) = (truth.mm_per_px[0], truth.pixel_pitch_mm[0]);
    let progress = Progress::unwatched();
    let mut lines = Vec::new();
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
    let drawn = truth.spec.file.iter();
    let drawn = drawn.chain(truth.spec.clutter.second_files.iter().map(|s| &s.file));
    let sizes: Vec<u16> = drawn.map(|f| f.size).collect();
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
        let Ok(found) = weighed_files(film, near, &options, &progress) else {
            continue;
        };
        // The other files' places, for what a wrong one is taken for.
        let others = || files.iter().enumerate().filter(|(other, _)| *other != k);
        let other_tips: Vec<FilmPoint> = others().map(|(_, f)| strange.place(f.1)).collect();
        let other_stops: Vec<FilmPoint> = others().map(|(_, f)| strange.place(f.3)).collect();
        let off_mm = |p: FilmPoint, of: FilmPoint| p.distance_px(strange.place(of)) * mm_per_px;
        for (rank, file) in found.iter().enumerate() {
            let Some(&tip_px) = file.line.last() else {
                continue;
            };
            let common = with(
                json!({ "press": k, "rank": rank, "files": files.len(), "size": sizes[k],
                    "likeness": file.evidence.likeness }),
                common.clone(),
            );
            let end = file.evidence.tip;
            let tip_row = json!({
                "sign": "tip", "off_mm": off_mm(tip_px, tip),
                "other_mm": nearest_mm(tip_px, &other_tips, mm_per_px),
                "visible": f64::from(u8::from(tip_visible)), "stated": file.tip_confidence,
                "along": end.along, "value": end.value, "rival": end.rival,
                "course": end.course, "press_mm": end.press_mm, "place": [tip_px.x, tip_px.y],
                "line_mm": line_off_mm(&file.line, line.iter().map(|p| strange.place(*p)), mm_per_px),
            });
            lines.push(with(tip_row, common.clone()));
            for (stop_rank, found_stop) in file.stops.iter().enumerate() {
                let end = found_stop.evidence;
                let stop_row = json!({
                    "sign": "stop", "off_mm": off_mm(found_stop.line[0], stop),
                    "other_mm": nearest_mm(found_stop.line[0], &other_stops, mm_per_px),
                    "visible": stop_share, "stated": found_stop.confidence,
                    "stop_rank": stop_rank, "course": end.course, "along": end.along, "value": end.value,
                    "rival": end.rival, "press_mm": end.press_mm, "body": end.body,
                });
                lines.push(with(stop_row, common.clone()));
            }
        }
    }
    lines
}

fn main() {
    let arguments = Arguments::parse();
    arguments.strips.begin();
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
                let pitch_mm = 0.03 + 0.015 * (seed % 7) as f64 / 6.0;
                spec.detector.set_pitch_mm(pitch_mm);
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
            let common = common(&made, &own.truth, seed);
            let mut lines = files(&made, &own.truth, &common, seed);
            if !arguments.files {
                lines.extend(apices(&made, &own.truth, &other, &common));
            }
            let lines: String = lines.iter().map(|line| format!("{line}\n")).collect();
            print!("{lines}");
        });
}
