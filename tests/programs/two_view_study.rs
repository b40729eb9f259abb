//! Do the intervals of two films hold the truth in space? The same phantom
//! tooth exposed twice, clicked with the stated noise and put together; shared
//! by the program `two_view_coverage` and the test.

use std::fmt::Write as _;
use std::ops::Range;

use lengthfilm::case::Case;
use lengthfilm::measure::findings::Quantity;
use lengthfilm::measure::{FilmSummary, MeasureSettings};
use lengthfilm::phantom::{CanalKind, PhantomSpec, Truth, ViewSpec, case_from_truth, truth};
use lengthfilm::statistics::quantile;
use lengthfilm::two_view::{
    ANGLE_HALF_WIDTH_RAD, Exposures, ROLL_HALF_WIDTH_RAD, Receptor, SCALE_PLACE_HALF_WIDTH_MM,
    Side, TwoViewFindings, two_view,
};
use lengthfilm::units::FilmPoint;
use nalgebra::{Rotation3, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

#[allow(clippy::duplicate_mod, reason = "each program is a crate of its own")]
#[path = "../support/coverage.rs"]
pub mod coverage;

pub use coverage::Outcome;
use coverage::{kind_words, row};

/// Seeds used by nothing else.
const FIRST_SEED: u64 = 47_000_000;
pub const CLICK_MM: f64 = 0.05;
/// Relative, of a typed magnification.
pub const SCALE_U: f64 = 0.005;

/// Where the scales of a pair come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scaling {
    /// Typed pitch and magnification of each film.
    OwnScales,
    /// A file of known length in the canal, traced on both films.
    SharedFile,
}

impl Scaling {
    pub const ALL: [Self; 2] = [Self::OwnScales, Self::SharedFile];

    pub fn words(self) -> &'static str {
        match self {
            Self::OwnScales => "own scales",
            Self::SharedFile => "shared file",
        }
    }
}

/// How much of each error the pairs have, 0: none, 1: as stated.
#[derive(Clone, Copy, Debug)]
pub struct Errors {
    pub clicks: f64,
    /// Scales and the place they hold at, or the shared file's length.
    pub scales: f64,
    /// Angle between the films and roll of one against the other.
    pub angles: f64,
    /// Tilt of the detector, which no input speaks of.
    pub detector: f64,
}

impl Errors {
    pub const ALL: Self = Self {
        clicks: 1.0,
        scales: 1.0,
        angles: 1.0,
        detector: 1.0,
    };
    pub const NONE: Self = Self {
        clicks: 0.0,
        scales: 0.0,
        angles: 0.0,
        detector: 0.0,
    };
}

/// What one pair gave.
#[derive(Clone, Debug, Default)]
pub struct PairOutcome {
    pub length: Vec<Outcome>,
    pub turn: Vec<Outcome>,
    pub plane: Vec<Outcome>,
    pub total: Vec<Outcome>,
    pub working_length: Vec<Outcome>,
    pub every_plane_possible: usize,
    /// Curves not listed and the bound stated of a further one: their turn is
    /// held where it is within it.
    pub missed_told: usize,
    /// Bound, degrees, where it is told of a curve that is none.
    pub told_of_none: Vec<f64>,
    pub missed_curves: usize,
    pub spurious_curves: usize,
    pub refused: usize,
}

/// The tooth as it lies on a film: x across, y down, z towards the source.
pub fn film_from_tooth(view: &ViewSpec) -> Rotation3<f64> {
    Rotation3::from_axis_angle(&Vector3::y_axis(), view.turn_deg.to_radians())
        * Rotation3::from_axis_angle(&Vector3::z_axis(), view.inclination_deg.to_radians())
        * Rotation3::from_axis_angle(&Vector3::x_axis(), view.lean_deg.to_radians())
}

/// Turn, rad, and direction it bends to of every true bend, in the frame of
/// film A: x across, y towards the source, z down the film.
fn true_bends(spec: &PhantomSpec) -> Vec<(f64, f64)> {
    let film_from_tooth = film_from_tooth(&spec.view);
    let mut heading = Vector3::y();
    let mut bends = Vec::new();
    for bend in &spec.canal.bends {
        let turn = bend.turn_deg.to_radians();
        let clockwise = Vector3::z().cross(&heading).normalize();
        let (sine, cosine) = bend.plane_deg.to_radians().sin_cos();
        let inward = (clockwise * cosine + heading.cross(&clockwise) * sine) * turn.signum();
        let after = heading * turn.abs().cos() + inward * turn.abs().sin();
        let change = film_from_tooth * (after - heading);
        bends.push((turn.abs(), change.z.atan2(change.x)));
        heading = after;
    }
    bends
}

/// How far, in depth and aside of film A, a film's own scale holds from where it
/// is taken to, tooth frame, mm.
pub fn scale_off(view: &ViewSpec, rng: &mut ChaCha8Rng) -> Vector3<f64> {
    let [aside, deep] = [0, 1].map(|_| rng.random_range(-1.0..1.0));
    let off = Vector3::new(aside, 0.0, deep) * SCALE_PLACE_HALF_WIDTH_MM;
    film_from_tooth(view).inverse() * off
}

/// Magnification at `place` of a tooth about `centre` (tooth frame, mm).
pub fn magnification_at(view: &ViewSpec, centre: Vector3<f64>, place: Vector3<f64>) -> f64 {
    let near = (film_from_tooth(view) * (place - centre)).z;
    let sid = view.source_to_detector_mm;
    sid / (sid - view.object_to_detector_mm - near)
}

/// The case of one film, its inputs drawn as they may be off.
fn case_of(
    truth: &Truth,
    scaling: Scaling,
    reading_mm: f64,
    scale_place: Vector3<f64>,
    errors: Errors,
    rng: &mut ChaCha8Rng,
) -> Case {
    let clicks_mm = errors.clicks * CLICK_MM;
    let mut case = case_from_truth(truth, "film.png", None, clicks_mm, rng.random());
    case.click_noise_mm = Some(CLICK_MM);
    let view = &truth.spec.view;
    let shift = view.tube_shift_deg.to_radians().cos();
    let (sid, ofd) = (view.source_to_detector_mm, view.object_to_detector_mm);
    case.film.source_to_detector_mm = Some(sid / shift);
    case.film.source_to_tooth_mm = Some((sid - ofd) / shift);
    let z: f64 = StandardNormal.sample(rng);
    let z = errors.scales * z;
    match scaling {
        Scaling::OwnScales => {
            case.scale.objects.clear();
            let centre = Vector3::new(0.0, 0.5 * truth.spec.reference_to_apex_mm(), 0.0);
            let magnification = magnification_at(view, centre, scale_place);
            case.film.magnification = Some(magnification * (1.0 + SCALE_U * z));
        }
        Scaling::SharedFile => {
            case.scale.objects.truncate(1);
            for object in &mut case.scale.objects {
                object.true_length_mm = object.true_length_mm.map(|l| l + reading_mm);
            }
        }
    }
    case
}

/// Turns every point of a case about its film's middle.
pub fn roll(case: &mut Case, size_px: [u32; 2], angle_rad: f64) {
    let [x, y] = size_px.map(|n| 0.5 * f64::from(n));
    let (sine, cosine) = angle_rad.sin_cos();
    let turn = |p: &mut FilmPoint| {
        let (dx, dy) = (p.x - x, p.y - y);
        *p = FilmPoint::new(x + dx * cosine - dy * sine, y + dx * sine + dy * cosine);
    };
    for canal in &mut case.canals {
        canal.trace_px.iter_mut().for_each(turn);
        canal.apex_px.iter_mut().for_each(turn);
        canal.reference_px.iter_mut().for_each(turn);
        if let Some(file) = &mut canal.file {
            file.tip_px.iter_mut().for_each(turn);
        }
    }
    for object in &mut case.scale.objects {
        object.points_px.iter_mut().for_each(turn);
    }
}

/// What both films of these cases say, their columns and rows `sizes_px`.
pub fn put_together(
    [a, b]: [&Case; 2],
    sizes_px: [[u32; 2]; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Option<TwoViewFindings> {
    let summary = |name: &str, [width_px, height_px]: [u32; 2]| FilmSummary {
        width_px,
        height_px,
        sha256: name.to_owned(),
        ..FilmSummary::default()
    };
    let films = [summary("a", sizes_px[0]), summary("b", sizes_px[1])];
    let side = |case, film, name| Side { case, film, name };
    let sides = [side(a, &films[0], "a"), side(b, &films[1], "b")];
    two_view(sides, exposures, settings).ok()
}

/// Both films of one phantom tooth, put together.
pub fn found_of(
    kind: CanalKind,
    scaling: Scaling,
    receptor: Receptor,
    angle_deg: f64,
    number: u64,
    errors: Errors,
    settings: &MeasureSettings,
) -> (PhantomSpec, Truth, Option<TwoViewFindings>) {
    let mut spec = PhantomSpec::random(kind, FIRST_SEED + number);
    let mut rng = ChaCha8Rng::seed_from_u64(FIRST_SEED + number);
    rng.set_stream(1 + kind as u64 + 8 * scaling as u64 + 32 * angle_deg as u64);
    match scaling {
        Scaling::OwnScales => spec.file = None,
        Scaling::SharedFile => {
            spec.file = Some(lengthfilm::phantom::FileSpec {
                operative_length_mm: 31.0,
                ..Default::default()
            });
            spec = spec.with_tip_short_of_apex(1.0);
        }
    }
    // The tooth's reference point may leave a small film when it is turned.
    spec.detector.width_px = 2000;
    spec.detector.height_px = 2600;
    spec.view.detector_tilt_deg *= errors.detector;
    let mut second = spec.clone();
    let off = errors.angles * ANGLE_HALF_WIDTH_RAD.to_degrees() * rng.random_range(-1.0..1.0);
    match receptor {
        Receptor::Turned => second.view.turn_deg = angle_deg + off,
        Receptor::Stayed => second.view.tube_shift_deg = angle_deg + off,
    }
    let truths = [&spec, &second].map(|s| truth(s).expect("a phantom that can be built"));
    let reading = settings.uncertainty.reading_half_width_mm * rng.random_range(-1.0..1.0);
    let reading = errors.scales * reading;
    let [reference, apex] = [truths[0].reference_mm, truths[0].apex_mm].map(Vector3::from);
    // A stream of its own: the pairs keep their clicks.
    let mut off = ChaCha8Rng::seed_from_u64(FIRST_SEED + number);
    off.set_stream(10_000 + kind as u64);
    let place = 0.5 * (reference + apex) + scale_off(&spec.view, &mut off) * errors.scales;
    let [a, mut b] = [0, 1].map(|f| case_of(&truths[f], scaling, reading, place, errors, &mut rng));
    let rolled = errors.angles * ROLL_HALF_WIDTH_RAD * rng.random_range(-1.0..1.0);
    roll(&mut b, truths[1].film_size_px, rolled);
    let sizes_px = [0, 1].map(|f| truths[f].film_size_px);
    let exposures = Exposures::new(angle_deg, receptor);
    let found = put_together([&a, &b], sizes_px, &exposures, settings);
    let [first, _] = truths;
    (spec, first, found)
}

/// One pair's results beside the truth.
pub fn pair_outcome(
    kind: CanalKind,
    scaling: Scaling,
    receptor: Receptor,
    angle_deg: f64,
    number: u64,
    errors: Errors,
    settings: &MeasureSettings,
) -> PairOutcome {
    let (spec, truth, found) =
        found_of(kind, scaling, receptor, angle_deg, number, errors, settings);
    let mut out = PairOutcome::default();
    let Some(found) = found else {
        out.refused = 1;
        return out;
    };
    let length = Outcome::new(found.length_mm, truth.orifice_to_apex_mm);
    out.length.push(length);
    if let Some(length) = found.working_length_mm {
        let truth = truth.reference_to_apex_mm - found.allowance_mm;
        out.working_length.push(Outcome::new(length, truth));
    }
    let bends = true_bends(&spec);
    let total_true: f64 = bends.iter().map(|b| b.0.to_degrees()).sum();
    let total = Outcome::new(found.total_turn_deg, total_true);
    out.total.push(total);
    let in_order = found.curves.len() == bends.len();
    let mut used = vec![false; found.curves.len()];
    for (i, (turn, plane)) in bends.iter().enumerate() {
        let shared = |j: usize| {
            let curve = &found.curves[j];
            let part = curve
                .start_from_apex_mm
                .min(truth.curves[i].start_from_apex_mm)
                - curve.end_from_apex_mm.max(truth.curves[i].end_from_apex_mm);
            let aside = f64::cos(curve.plane_deg.to_radians() - plane);
            if aside > 0.0 { part } else { 0.0 }
        };
        let best = if in_order {
            Some(i)
        } else {
            (0..found.curves.len())
                .filter(|&j| shared(j) > 0.0)
                .max_by(|&a, &b| shared(a).total_cmp(&shared(b)))
        };
        let Some(j) = best else {
            out.missed_curves += 1;
            // "Straight" is a statement too: a turn of 0 within its U.
            if found.curves.is_empty() && bends.len() == 1 {
                let net = Outcome::new(found.net_turn_deg, turn.to_degrees());
                out.turn.push(net);
            } else {
                let bound = found.possible_further_curve.as_ref();
                out.missed_told += usize::from(bound.is_some());
                let none = Quantity {
                    value: 0.0,
                    u95: bound.map_or(0.0, |b| b.turn_upto_deg),
                };
                out.turn.push(Outcome::new(none, turn.to_degrees()));
            }
            continue;
        };
        used[j] = true;
        let curve = &found.curves[j];
        out.turn
            .push(Outcome::new(curve.turn_deg, turn.to_degrees()));
        let off = (curve.plane_deg - plane.to_degrees()).rem_euclid(360.0);
        let off = if off > 180.0 { off - 360.0 } else { off };
        match curve.plane_u95_deg {
            Some(u95) => out.plane.push(Outcome { error: off, u95 }),
            None => out.every_plane_possible += 1,
        }
    }
    if let Some(further) = &found.possible_further_curve
        && out.missed_curves == 0
    {
        out.told_of_none.push(further.turn_upto_deg);
    }
    out.spurious_curves = used.iter().filter(|u| !**u).count();
    out
}

/// All pairs of one kind.
pub fn study(
    kind: CanalKind,
    scaling: Scaling,
    receptor: Receptor,
    angle_deg: f64,
    numbers: Range<u64>,
    errors: Errors,
    settings: &MeasureSettings,
) -> Vec<PairOutcome> {
    let outcome =
        |number| pair_outcome(kind, scaling, receptor, angle_deg, number, errors, settings);
    numbers.into_par_iter().map(outcome).collect()
}

/// The name of a result in a table, and how to find it in what a pair gave.
pub type ResultOf<T> = (&'static str, fn(&T) -> &Vec<Outcome>);

/// The results of the table.
const RESULTS: [ResultOf<PairOutcome>; 5] = [
    ("length, mm", |o| &o.length),
    ("working length, mm", |o| &o.working_length),
    ("turn per curve, °", |o| &o.turn),
    ("total turn, °", |o| &o.total),
    ("plane, °", |o| &o.plane),
];

/// The tables in Markdown: all kinds together, then kind by kind.
pub fn tables(
    numbers: Range<u64>,
    angles_deg: &[f64],
    receptor: Receptor,
    errors: Errors,
    settings: &MeasureSettings,
) -> String {
    let head = "| films apart | scales | canal | result | n | coverage, % | bias | SD of error | median U |\n|---|---|---|---|---|---|---|---|---|\n";
    let mut together = head.to_owned();
    let mut apart = head.to_owned();
    let mut notes = String::from(
        "| films apart | scales | canal | curves that are none | curves not seen | of these told as possible | told as possible where none is | up to, median | every plane possible | refused |\n|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for &angle in angles_deg {
        for scaling in Scaling::ALL {
            let mut all = Vec::new();
            for kind in CanalKind::ALL {
                let numbers = numbers.clone();
                let found = study(kind, scaling, receptor, angle, numbers, errors, settings);
                let name = format!("| {angle}° | {} | {} |", scaling.words(), kind_words(kind));
                write_rows(&mut apart, &name, found.iter(), &RESULTS);
                let sum = |of: fn(&PairOutcome) -> usize| found.iter().map(of).sum::<usize>();
                let mut told: Vec<f64> = found
                    .iter()
                    .flat_map(|o| o.told_of_none.iter().copied())
                    .collect();
                let count = told.len();
                let median =
                    quantile(&mut told, 0.5).map_or("–".to_owned(), |m| format!("{m:.0}°"));
                let _ = writeln!(
                    notes,
                    "{name} {} | {} | {} | {count} | {median} | {} | {} |",
                    sum(|o| o.spurious_curves),
                    sum(|o| o.missed_curves),
                    sum(|o| o.missed_told),
                    sum(|o| o.every_plane_possible),
                    sum(|o| o.refused),
                );
                all.extend(found);
            }
            let name = format!("| {angle}° | {} | all four kinds |", scaling.words());
            write_rows(&mut together, &name, all.iter(), &RESULTS);
        }
    }
    format!("{together}\n{apart}\n{notes}")
}

/// A row of each result of these pairs.
pub fn write_rows<'a, T: 'a>(
    out: &mut String,
    name: &str,
    found: impl Iterator<Item = &'a T> + Clone,
    results: &[ResultOf<T>],
) {
    for (result, of) in results {
        let outcomes: Vec<Outcome> = found.clone().flat_map(of).copied().collect();
        out.push_str(&row(&format!("{name} {result} |"), result, &outcomes));
    }
}
