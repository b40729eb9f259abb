//! Turns of phantom canals read from the film, beside those from clicks on the
//! same film: the table "Angles from the film" of docs/accuracy.md.

use std::fmt::Write as _;

use lengthfilm::assist::{FollowOptions, follow};
use lengthfilm::case::{Canal, Case};
use lengthfilm::curvature::{CurvatureQuantity, DifficultyClass};
use lengthfilm::measure::findings::{CurvatureFindings, CurveFinding};
use lengthfilm::measure::{FilmSummary, MeasureSettings, measure};
use lengthfilm::phantom::{Bend, FileTruth, PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::{FilmPoint, Quantity};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// Points and noise of the trace by hand.
const CLICKS: usize = 12;
const CLICK_MM: f64 = 0.05;
/// Standard deviation per coordinate of the presses that a line is followed
/// from.
const PRESS_MM: f64 = 0.07;

/// Makes the bends of every second film smooth: curvature by half a sine, rising
/// to the apex, or falling, over the same stretch.
pub fn mix_shapes(spec: &mut PhantomSpec, number: u64) {
    const PIECES: usize = 8;
    let profile = |x: f64| match number / 2 % 3 {
        0 => (std::f64::consts::PI * x).sin(),
        1 => x,
        _ => 1.2 - x,
    };
    if number.is_multiple_of(2) {
        return;
    }
    let weights: Vec<f64> = (0..PIECES)
        .map(|k| profile((k as f64 + 0.5) / PIECES as f64))
        .collect();
    let sum: f64 = weights.iter().sum();
    let smooth = |bend: &Bend| -> Vec<Bend> {
        let length = bend.turn_deg.to_radians().abs() * bend.radius_mm / PIECES as f64;
        let piece = |(k, weight): (usize, &f64)| {
            let turn_deg = bend.turn_deg * weight / sum;
            Bend {
                turn_deg,
                radius_mm: length / turn_deg.to_radians().abs(),
                straight_after_mm: if k + 1 == PIECES {
                    bend.straight_after_mm
                } else {
                    0.0
                },
                plane_deg: bend.plane_deg,
            }
        };
        weights.iter().enumerate().map(piece).collect()
    };
    let bends = spec.canal.bends.iter().filter(|b| b.turn_deg != 0.0);
    spec.canal.bends = bends.flat_map(smooth).collect();
}

/// A curve of the truth: adjoining arcs to one side.
struct TrueCurve {
    turn_deg: f64,
    from_apex_mm: [f64; 2],
    start_px: FilmPoint,
    end_px: FilmPoint,
}

fn true_curves(truth: &Truth) -> Vec<TrueCurve> {
    let mut curves: Vec<TrueCurve> = Vec::new();
    for arc in &truth.curves {
        match curves.last_mut() {
            Some(last) if last.turn_deg * arc.projected_turn_deg > 0.0 => {
                last.turn_deg += arc.projected_turn_deg;
                last.from_apex_mm[1] = arc.end_from_apex_mm;
                last.end_px = arc.end_px;
            }
            _ => curves.push(TrueCurve {
                turn_deg: arc.projected_turn_deg,
                from_apex_mm: [arc.start_from_apex_mm, arc.end_from_apex_mm],
                start_px: arc.start_px,
                end_px: arc.end_px,
            }),
        }
    }
    curves
}

/// The class of the canal's shadow.
fn true_class(truth: &Truth, curves: &[TrueCurve]) -> Option<DifficultyClass> {
    let line = &truth.canal_px;
    let angle_rad = |curve: &TrueCurve| {
        let distance = |p: &FilmPoint| p.distance_px(curve.start_px);
        let nearest = (1..line.len()).min_by(|&a, &b| {
            let (a, b) = (distance(&line[a]), distance(&line[b]));
            a.total_cmp(&b)
        });
        let (before, at) = (line[nearest.unwrap_or(1) - 1], curve.start_px);
        let axis = (
            line[nearest.unwrap_or(1)].x - before.x,
            line[nearest.unwrap_or(1)].y - before.y,
        );
        let to = |end: FilmPoint| {
            let chord = (end.x - at.x, end.y - at.y);
            let cross = axis.0 * chord.1 - axis.1 * chord.0;
            cross.abs().atan2(axis.0 * chord.0 + axis.1 * chord.1)
        };
        to(curve.end_px).max(to(line[line.len() - 1]))
    };
    let greatest = curves.iter().map(angle_rad).fold(0.0, f64::max);
    let side = |sign: f64| {
        let turns = curves.iter().map(|curve| sign * curve.turn_deg);
        turns.fold(0.0, f64::max)
    };
    DifficultyClass::of(greatest, side(1.0).min(side(-1.0)) > 10.0)
}

/// One turn beside the truth, degrees.
#[derive(Clone, Copy)]
struct Turn {
    error: f64,
    u95: f64,
    /// The file goes on beyond the curve.
    along_file: bool,
}

/// A file that goes on so far beyond a curve shows which way the canal goes on,
/// mm.
const FILE_BEYOND_MM: f64 = 1.0;

/// What one way of tracing gave on one film.
#[derive(Clone, Default)]
struct Outcome {
    turns: Vec<Turn>,
    missed: usize,
    none: usize,
    certain: bool,
    certain_and_wrong: bool,
    warned: bool,
    /// Its angles come from the film, or from film and trace.
    is_read: bool,
}

fn overlap_mm(found: &CurveFinding, truth: &TrueCurve) -> f64 {
    let same_side = found
        .turn_deg
        .is_some_and(|t| t.value * truth.turn_deg > 0.0);
    match (found.start_from_apex_mm, found.end_from_apex_mm) {
        (Some(start), Some(end)) if same_side => {
            start.min(truth.from_apex_mm[0]) - end.max(truth.from_apex_mm[1])
        }
        _ => 0.0,
    }
}

fn outcome(
    found: &CurvatureFindings,
    truth: &[TrueCurve],
    class: Option<DifficultyClass>,
    file: Option<&FileTruth>,
) -> Outcome {
    let along_file = |curve: &TrueCurve| {
        file.is_some_and(|file| {
            file.tip_to_foramen_mm <= 0.0
                || curve.from_apex_mm[1] >= file.tip_to_apex_mm + FILE_BEYOND_MM
        })
    };
    let mut out = Outcome::default();
    let mut used = vec![false; found.curves.len()];
    for (place, curve) in truth.iter().enumerate() {
        let best = if found.curves.len() == truth.len() {
            Some(place)
        } else {
            (0..found.curves.len())
                .map(|i| (i, overlap_mm(&found.curves[i], curve)))
                .filter(|(_, overlap)| *overlap > 0.0)
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map(|(i, _)| i)
        };
        let reported = match best {
            Some(i) => {
                used[i] = true;
                found.curves[i].turn_deg
            }
            None if found.curves.is_empty() && truth.len() == 1 => {
                out.missed += 1;
                found[CurvatureQuantity::NetTurn]
            }
            None => {
                out.missed += 1;
                Some(Quantity {
                    value: 0.0,
                    u95: 0.0,
                })
            }
        };
        if let Some(turn) = reported {
            out.turns.push(Turn {
                error: turn.value - curve.turn_deg,
                u95: turn.u95,
                along_file: along_file(curve),
            });
        }
    }
    out.none = used.iter().filter(|used| !**used).count();
    if let Some(shares) = found.difficulty.probabilities {
        let likeliest = DifficultyClass::ALL
            .into_iter()
            .max_by(|a, b| shares.of(*a).total_cmp(&shares.of(*b)));
        out.certain = likeliest.is_some_and(|class| shares.of(class) >= 0.95);
        out.certain_and_wrong = out.certain && likeliest != class;
    }
    out.is_read = found.angles_from != "trace";
    out
}

fn measured(truth: &Truth, canal: Canal, settings: &MeasureSettings) -> Option<Outcome> {
    let view = &truth.spec.view;
    let magnification =
        view.source_to_detector_mm / (view.source_to_detector_mm - view.object_to_detector_mm);
    let mut case = Case::on_film("film.png");
    case.film.pixel_pitch_mm = Some(truth.pixel_pitch_mm);
    case.film.magnification = Some(magnification);
    case.canals.push(canal);
    let film = FilmSummary {
        width_px: truth.film_size_px[0],
        height_px: truth.film_size_px[1],
        ..FilmSummary::default()
    };
    let found = measure(&case, &film, "angles", settings).ok()?;
    let curves = true_curves(truth);
    let class = true_class(truth, &curves);
    let mut out = outcome(
        found.canals[0].curvature.as_ref()?,
        &curves,
        class,
        truth.file.as_ref(),
    );
    let codes = ["readings_scatter", "click_noise_exceeded", "curve_model"];
    out.warned = found
        .warnings
        .iter()
        .any(|w| codes.contains(&w.code.as_str()));
    Some(out)
}

/// Whether a film and a turn on it are of a kind that has its own rows.
type IsKind = (fn(&Film) -> bool, fn(&Turn) -> bool);

/// A film and what clicks, the followed trace and the film itself say.
struct Film {
    seed: u64,
    has_file: bool,
    is_visible: bool,
    /// By hand, the trace that was followed, and its readings.
    ways: [Outcome; 3],
    read: usize,
}

fn film(spec: &PhantomSpec, settings: &MeasureSettings, wider: f64) -> Option<Film> {
    let phantom = render(spec).ok()?;
    let truth = &phantom.truth;
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0x5eed);
    let pitch = truth.pixel_pitch_mm;
    let mut near = |p: FilmPoint, mm: f64| {
        let mut deviate = || -> f64 { StandardNormal.sample(&mut rng) };
        FilmPoint::new(
            p.x + mm / pitch[1] * deviate(),
            p.y + mm / pitch[0] * deviate(),
        )
    };
    let line = &truth.canal_px;
    let at = |i: usize| line[i * (line.len() - 1) / (CLICKS - 1)];
    let clicked = Canal {
        name: "1".to_owned(),
        trace_px: (0..CLICKS).map(|i| near(at(i), CLICK_MM)).collect(),
        ..Canal::default()
    };
    let presses = [truth.orifice_px, truth.foramen_px].map(|p| near(p, PRESS_MM));
    let options = FollowOptions {
        bright: false,
        mm_per_px: Some(pitch[0]),
    };
    let found = follow(&phantom.film, &presses, &options, &Progress::unwatched()).ok()?;
    let mut canal = found.canal("1");
    if let Some(followed) = &mut canal.followed {
        let lengths = followed.u_px.iter_mut().chain(&mut followed.common_u_px);
        lengths.for_each(|u_px| *u_px *= wider);
    }
    let traced = Canal {
        followed: None,
        ..canal.clone()
    };
    let read = canal.followed.as_ref().map_or(0, |f| f.points_px.len());
    let ways = [clicked, traced, canal].map(|canal| measured(truth, canal, settings));
    let [Some(a), Some(b), Some(c)] = ways else {
        return None;
    };
    Some(Film {
        seed: spec.seed,
        has_file: spec.file.is_some(),
        is_visible: spec.canal.calcified_apical_mm == 0.0 && found.mean_confidence >= 0.5,
        ways: [a, b, c],
        read,
    })
}

fn quantile(values: impl Iterator<Item = f64>, p: f64) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let last = values.len().saturating_sub(1) as f64;
    let at = values.get((last * p).round() as usize);
    at.copied().unwrap_or(f64::NAN)
}

/// The table in Markdown; with `each` a line of every film besides.
pub fn table(
    specs: Vec<PhantomSpec>,
    settings: &MeasureSettings,
    wider: f64,
    each: bool,
) -> String {
    let found: Vec<Film> = specs
        .into_par_iter()
        .filter_map(|spec| film(&spec, settings, wider))
        .collect();
    let mut out = String::from(
        "| films | angles from | films | curves | median U, ° | 90 % of U, ° | \\|error\\| 50 %, 90 %, ° | bias, ° | \
         held, % | curves not found | curves that are none | class certain, % | certain and wrong, % | warned, % |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    let any = |_: &Turn| true;
    let kinds: [(&str, IsKind); 6] = [
        ("file in the canal", (|f| f.has_file, any)),
        (
            "– curves along the file",
            (|f| f.has_file, |t| t.along_file),
        ),
        (
            "– curves that reach farther",
            (|f| f.has_file, |t| !t.along_file),
        ),
        (
            "empty canal, visible",
            (|f| !f.has_file && f.is_visible, any),
        ),
        ("empty canal, all", (|f| !f.has_file, any)),
        ("angles read from the film", (|f| f.ways[2].is_read, any)),
    ];
    let ways = ["12 clicks", "followed trace", "the film"];
    for (index, (kind, (is_film, is_turn))) in kinds.into_iter().enumerate() {
        for (way, words) in ways.iter().enumerate() {
            let films: Vec<&Outcome> = found
                .iter()
                .filter(|f| is_film(f))
                .map(|f| &f.ways[way])
                .collect();
            let turns = films.iter().flat_map(|o| o.turns.iter().copied());
            let turns: Vec<Turn> = turns.filter(is_turn).collect();
            let n = turns.len().max(1) as f64;
            let errors = || turns.iter().map(|t| t.error.abs());
            let held = turns.iter().filter(|t| t.error.abs() <= t.u95).count() as f64;
            let share = |of: fn(&Outcome) -> bool| {
                100.0 * films.iter().filter(|o| of(o)).count() as f64 / films.len().max(1) as f64
            };
            let sum = |of: fn(&Outcome) -> usize| films.iter().map(|o| of(o)).sum::<usize>();
            // Of part of the curves no more than their turns can be told.
            let of_films = match index {
                1 | 2 => "| – | – | – | – | – |".to_owned(),
                _ => format!(
                    "| {} | {} | {:.0} | {:.1} | {:.0} |",
                    sum(|o| o.missed),
                    sum(|o| o.none),
                    share(|o| o.certain),
                    share(|o| o.certain_and_wrong),
                    share(|o| o.warned),
                ),
            };
            let _ = writeln!(
                out,
                "| {kind} | {words} | {} | {} | {:.1} | {:.1} | {:.1}, {:.1} | {:+.1} | {:.1} {of_films}",
                films.len(),
                turns.len(),
                quantile(turns.iter().map(|t| t.u95), 0.5),
                quantile(turns.iter().map(|t| t.u95), 0.9),
                quantile(errors(), 0.5),
                quantile(errors(), 0.9),
                turns.iter().map(|t| t.error).sum::<f64>() / n,
                100.0 * held / n,
            );
        }
    }
    if each {
        for film in &found {
            let words = |turn: &Turn| format!("{:+.1} ± {:.1}", turn.error, turn.u95);
            let turns: Vec<String> = film.ways[2].turns.iter().map(words).collect();
            let _ = writeln!(
                out,
                "{} file {} visible {} read {} all {} warned {}: {}",
                film.seed,
                film.has_file,
                film.is_visible,
                film.read,
                film.ways[2].is_read,
                film.ways[2].warned,
                turns.join(", ")
            );
        }
    }
    out
}
