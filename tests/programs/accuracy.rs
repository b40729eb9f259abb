//! Prints, as Markdown, how well lengths, angles and radii come back from
//! noisy traces of known paths, as `measure` gives them, beside the Cramér–Rao
//! bound: the table of docs/accuracy.md.
//!
//! ```text
//! cargo run --release --example accuracy                  # 500 traces a row
//! cargo run --release --example accuracy -- --canals 100 --threads 4
//! cargo run --release --example accuracy -- --open
//! ```
//!
//! With `--open` the table of what the points leave open: the turn that a straight
//! end hides within one standard deviation of a click, and the turns of forms
//! that run through the exact points nearly as well as the path itself does.

#[path = "../support/noisy_trace.rs"]
mod noisy_trace;
#[path = "../support/pieces.rs"]
mod pieces;

use clap::Parser;
use kurbo::{Point, Vec2};
use lengthfilm::curvature::curve_by_curve;
use lengthfilm::geometry::{DrawnCurve, FitOptions, Piece, StraightArcPath, fit_path};
use lengthfilm::measure::findings::CurveFinding;
use lengthfilm::measure::{MeasureSettings, Precision, measure};
use nalgebra::DMatrix;
use noisy_trace::{drawn_mm, noisy_trace};
use pieces::{arc, straight};
use rayon::prelude::*;

#[derive(Parser)]
struct Arguments {
    /// Traces of each row.
    #[arg(long, default_value_t = 500)]
    canals: u64,
    /// Threads; all of the machine's where it is left out.
    #[arg(long)]
    threads: Option<usize>,
    /// The table of what the points leave open in place of the other.
    #[arg(long)]
    open: bool,
}

const POINT_COUNTS: [usize; 4] = [6, 8, 10, 14];
const NOISES_MM: [f64; 3] = [0.0, 0.03, 0.06];
const AWAY_FROM_THE_EDGE_MM: Vec2 = Vec2::new(20.0, 20.0);
const FIRST_SEED: u64 = 71_000_000;
/// The click noise stated for noise-free points.
const SMALLEST_SD_MM: f64 = 0.001;

/// A path to trace, lengths in mm.
struct Shape {
    name: &'static str,
    pieces: Vec<Piece>,
}

impl Shape {
    fn path(&self) -> StraightArcPath {
        StraightArcPath::new(Point::new(3.0, 2.0), 1.3, &self.pieces).expect("a valid shape")
    }
}

fn shapes() -> Vec<Shape> {
    let shape = |name, pieces: &[Piece]| Shape {
        name,
        pieces: pieces.to_vec(),
    };
    vec![
        shape(
            "20°, r 10, tail 4",
            &[straight(8.0), arc(10.0, 20.0), straight(4.0)],
        ),
        shape(
            "35°, r 8, tail 3",
            &[straight(8.0), arc(8.0, 35.0), straight(3.0)],
        ),
        shape("35°, r 8, no tail", &[straight(9.0), arc(8.0, 35.0)]),
        shape(
            "50°, r 5, tail 3",
            &[straight(8.0), arc(5.0, 50.0), straight(3.0)],
        ),
        shape("60°, r 5, no tail", &[straight(8.0), arc(5.0, 60.0)]),
        shape(
            "S 30°/−35°, r 8/6, joined",
            &[
                straight(6.0),
                arc(8.0, 30.0),
                arc(6.0, -35.0),
                straight(2.0),
            ],
        ),
        shape(
            "S 30°/−35°, r 6/5, 2 mm between",
            &[
                straight(5.0),
                arc(6.0, 30.0),
                straight(2.0),
                arc(5.0, -35.0),
                straight(2.0),
            ],
        ),
        shape(
            "S 30°/−20°, r 5/4.5, no tail",
            &[straight(11.8112), arc(5.0, 30.0), arc(4.5, -20.0)],
        ),
    ]
}

/// Bounds on the standard deviation of each arc's turn (rad) and radius, and
/// of the path's length; `None` where the points do not determine the path.
struct Bound {
    turns: Vec<f64>,
    radii: Vec<f64>,
}

/// Cramér–Rao bound with points at `stations` along the path: the parameters
/// of the path and, as nuisance, where along it each point between lies.
fn cramer_rao(shape: &Shape, stations: &[f64], sd: f64) -> Option<Bound> {
    let mut parameters = vec![3.0, 2.0, 1.3];
    for piece in &shape.pieces {
        parameters.push(piece.length());
        if let Piece::Arc { turn_rad, .. } = piece {
            parameters.push(*turn_rad);
        }
    }
    let path_parameters = parameters.len();
    let between = &stations[1..stations.len() - 1];
    parameters.extend(between);
    let predict = |p: &[f64]| -> Vec<f64> {
        let mut next = 3;
        let pieces: Vec<Piece> = shape
            .pieces
            .iter()
            .map(|piece| {
                let length = p[next];
                next += 1;
                match piece {
                    Piece::Straight { .. } => Piece::Straight { length },
                    Piece::Arc { .. } => {
                        next += 1;
                        Piece::Arc {
                            length,
                            turn_rad: p[next - 1],
                        }
                    }
                }
            })
            .collect();
        let path = StraightArcPath::new(Point::new(p[0], p[1]), p[2], &pieces).expect("near");
        let ends = [path.start(), path.end()];
        let feet = p[path_parameters..]
            .iter()
            .map(|&at| path.point_at_length(at));
        feet.chain(ends).flat_map(|q| [q.x, q.y]).collect()
    };
    let rows = 2 * stations.len();
    if rows < parameters.len() {
        return None;
    }
    let mut jacobian = DMatrix::zeros(rows, parameters.len());
    let step = 1e-5;
    for column in 0..parameters.len() {
        let moved = |by: f64| {
            let mut p = parameters.clone();
            p[column] += by;
            predict(&p)
        };
        for (row, (up, down)) in moved(step).iter().zip(moved(-step)).enumerate() {
            jacobian[(row, column)] = (up - down) / (2.0 * step);
        }
    }
    let information = jacobian.transpose() * &jacobian;
    let spectrum = information.clone().symmetric_eigenvalues();
    if spectrum.min() < 1e-7 * spectrum.max() {
        return None;
    }
    let covariance = information.try_inverse()? * (sd * sd);
    let (mut turns, mut radii) = (Vec::new(), Vec::new());
    let mut index = 3;
    for piece in &shape.pieces {
        match *piece {
            Piece::Straight { .. } => index += 1,
            Piece::Arc { length, turn_rad } => {
                turns.push(covariance[(index + 1, index + 1)].sqrt());
                let (by_length, by_turn) = (1.0 / turn_rad, -length / (turn_rad * turn_rad));
                let variance = by_length * by_length * covariance[(index, index)]
                    + 2.0 * by_length * by_turn * covariance[(index, index + 1)]
                    + by_turn * by_turn * covariance[(index + 1, index + 1)];
                radii.push(variance.sqrt());
                index += 2;
            }
        }
    }
    Some(Bound { turns, radii })
}

/// Turn, rad, that a straight end hides of an apical arc: a straight piece t in
/// place of the arc's last one moves the end by t²/2r across (to third order),
/// so that t = √(2σr) moves it by one standard deviation σ of a click and hides
/// t/r = √(2σ/r). `None` where a straight piece ends the path.
fn hidden_by_straight_end(shape: &Shape, sd: f64) -> Option<f64> {
    match shape.pieces.last()? {
        arc @ Piece::Arc { .. } => Some((2.0 * sd * arc.curvature().abs()).sqrt()),
        Piece::Straight { .. } => None,
    }
}

/// Squared distances of points from a path over the variance of a point, ends
/// from ends.
fn chi_square(path: &StraightArcPath, points: &[Point], sd: f64) -> f64 {
    let last = points.len() - 1;
    let squares = points.iter().enumerate().map(|(index, point)| match index {
        0 => path.start().distance_squared(*point),
        _ if index == last => path.end().distance_squared(*point),
        _ => path.project(*point).foot.distance_squared(*point),
    });
    squares.sum::<f64>() / (sd * sd)
}

/// Prints what the points leave open.
fn left_open() {
    /// Whatever the method, a form this far off is taken for the path, or the
    /// path for it, in at least one of six traces: Φ(−√χ²/2) (Neyman–Pearson).
    const AS_GOOD: f64 = 4.0;
    println!(
        "| path | points | noise mm | curve | bound, ° | hidden by a straight end, ° | \
         forms as good | their turn less the true one, ° |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for shape in shapes() {
        let path = shape.path();
        let truth = curve_by_curve::curves(&path);
        for count in POINT_COUNTS {
            let stations: Vec<f64> = (0..count)
                .map(|i| path.length() * i as f64 / (count - 1) as f64)
                .collect();
            let points: Vec<Point> = stations.iter().map(|&s| path.point_at_length(s)).collect();
            for noise in NOISES_MM.into_iter().filter(|noise| *noise > 0.0) {
                let fit = fit_path(&points, &FitOptions::new(noise)).expect("a fit");
                let as_good: Vec<_> = fit
                    .forms()
                    .iter()
                    .filter(|form| chi_square(&form.path, &points, noise) < AS_GOOD)
                    .map(|form| curve_by_curve::curves(&form.path))
                    .filter(|curves| curves.len() == truth.len())
                    .collect();
                let bound = cramer_rao(&shape, &stations, noise);
                let open = hidden_by_straight_end(&shape, noise);
                for (index, real) in truth.iter().enumerate() {
                    let off = as_good.iter().map(|curves| {
                        (curves[index].turn_rad.abs() - real.turn_rad.abs()).to_degrees()
                    });
                    let least = off.clone().fold(f64::INFINITY, f64::min);
                    let most = off.fold(f64::NEG_INFINITY, f64::max);
                    let degrees = |rad: f64| format!("{:.2}", rad.to_degrees());
                    let is_last = index + 1 == truth.len();
                    println!(
                        "| {} | {count} | {noise:.2} | {} | {} | {} | {} | {} |",
                        shape.name,
                        index + 1,
                        bound
                            .as_ref()
                            .map_or("none".into(), |b| degrees(b.turns[index])),
                        open.filter(|_| is_last).map_or("–".into(), degrees),
                        as_good.len(),
                        match as_good.len() {
                            0 => "–".to_owned(),
                            _ => format!("{least:+.1} to {most:+.1}"),
                        }
                    );
                }
            }
        }
    }
}

/// Mean and standard deviation.
fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    (mean, variance.sqrt())
}

fn quantile(values: &mut [f64], fraction: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * fraction).round() as usize]
}

/// Standard deviation of a Gaussian with the quartiles of `values`: the spread
/// of the bulk, whatever the outliers do.
fn quartile_sd(values: &mut [f64]) -> f64 {
    (quantile(values, 0.75) - quantile(values, 0.25)) / 1.349
}

/// Sum of the absolute turns of the interpolating spline, rad.
fn spline_turn_rad(curve: &DrawnCurve) -> f64 {
    let steps = 200;
    let at = |k: usize| curve.tangent_at_length(curve.length() * k as f64 / steps as f64);
    (0..steps)
        .map(|k| at(k).cross(at(k + 1)).atan2(at(k).dot(at(k + 1))).abs())
        .sum()
}

fn main() {
    let arguments = Arguments::parse();
    let threads = arguments.threads.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
    pool.build_global().expect("threads");
    if arguments.open {
        return left_open();
    }
    println!(
        "| path | points | noise mm | length bias ± sd, mm | curve | angle bias ± sd, ° | angle quartile range/1.35, ° | bound, ° | \
         sd/bound | quartiles/bound | radius median bias, quartile range/1.35, mm | bound, mm | right curves, % | \
         spline's total turn, excess ± sd, ° |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for shape in shapes() {
        for count in POINT_COUNTS {
            for noise in NOISES_MM {
                row(&shape, count, noise, arguments.canals);
            }
        }
    }
}

/// What one trace gave.
struct Trial {
    length_error: f64,
    spline_excess_deg: f64,
    curves: Vec<CurveFinding>,
}

fn trial(path: &StraightArcPath, stations: &[f64], noise: f64, seed: u64) -> Trial {
    let places = stations
        .iter()
        .map(|&at| path.point_at_length(at) + AWAY_FROM_THE_EDGE_MM);
    let (case, film) = noisy_trace(places, [noise, noise.max(SMALLEST_SD_MM)], seed);
    let settings = MeasureSettings {
        precision: Precision::ValuesOnly,
        ..MeasureSettings::default()
    };
    let found = measure(&case, &film, "accuracy", &settings).expect("a usable case");
    let canal = &found.canals[0];
    let true_turn: f64 = curve_by_curve::curves(path)
        .iter()
        .map(|curve| curve.turn_rad.abs())
        .sum();
    Trial {
        length_error: canal.curved_length_mm.map_or(f64::NAN, |l| l.value) - path.length(),
        spline_excess_deg: (spline_turn_rad(&drawn_mm(&case)) - true_turn).to_degrees(),
        curves: canal.curvature.clone().map_or(Vec::new(), |c| c.curves),
    }
}

fn row(shape: &Shape, count: usize, noise: f64, canals: u64) {
    let path = shape.path();
    let truth = curve_by_curve::curves(&path);
    let stations: Vec<f64> = (0..count)
        .map(|i| path.length() * i as f64 / (count - 1) as f64)
        .collect();
    let canals = if noise == 0.0 { 1 } else { canals };
    let trials: Vec<Trial> = (0..canals)
        .into_par_iter()
        .map(|number| trial(&path, &stations, noise, FIRST_SEED + number))
        .collect();
    let lengths: Vec<f64> = trials.iter().map(|t| t.length_error).collect();
    let spline_turns: Vec<f64> = trials.iter().map(|t| t.spline_excess_deg).collect();
    let right = trials.iter().filter(|t| t.curves.len() == truth.len());
    let right = 100.0 * right.count() as f64 / canals as f64;
    let mut found = vec![(Vec::new(), Vec::new()); truth.len()];
    for Trial { curves, .. } in &trials {
        for (slot, (index, real)) in found.iter_mut().zip(truth.iter().enumerate()) {
            let like = if index == 0 {
                curves.first()
            } else {
                curves.last()
            };
            let real_deg = real.turn_rad.to_degrees();
            let turn = |curve: &&CurveFinding| curve.turn_deg.map_or(0.0, |t| t.value);
            let like = like.filter(|curve| turn(curve) * real_deg > 0.0);
            slot.0
                .push(like.map_or(0.0, |c| turn(&c).abs()) - real_deg.abs());
            if let Some(radius) = like.and_then(|curve| curve.radius_mm) {
                slot.1.push(radius.value - real.radius);
            }
        }
    }
    let bound = cramer_rao(shape, &stations, noise);
    let (length_bias, length_sd) = moments(&lengths);
    let (spline_bias, spline_sd) = moments(&spline_turns);
    for (index, (angles, radii)) in found.iter_mut().enumerate() {
        let (bias, sd) = moments(angles);
        let angle_spread = quartile_sd(angles);
        let (angle_bound, ratio, core_ratio, radius_bound) = match &bound {
            Some(bound) if noise > 0.0 => {
                let turn = bound.turns[index].to_degrees();
                (
                    format!("{turn:.2}"),
                    format!("{:.2}", sd / turn),
                    format!("{:.2}", angle_spread / turn),
                    format!("{:.2}", bound.radii[index]),
                )
            }
            Some(_) => ("0".into(), "–".into(), "–".into(), "0".into()),
            None => ("none".into(), "–".into(), "–".into(), "none".into()),
        };
        let (median, spread) = if radii.is_empty() {
            (f64::NAN, f64::NAN)
        } else {
            (quantile(radii, 0.5), quartile_sd(radii))
        };
        println!(
            "| {} | {count} | {noise:.2} | {length_bias:+.4} ± {length_sd:.4} | {} | {bias:+.2} ± {sd:.2} | \
             {angle_spread:.2} | {angle_bound} | {ratio} | {core_ratio} | {median:+.2}, {spread:.2} | {radius_bound} | {right:.0} | \
             {spline_bias:+.1} ± {spline_sd:.1} |",
            shape.name,
            index + 1,
        );
    }
}
