//! One file of known length seen on both films calibrates both, and takes out
//! the foreshortening that each film hides from itself.

use nalgebra::{Matrix2, Rotation2, Vector2};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::fit::{Effort, FilmPoints, Fitted, Solver};
use super::geometry::View;
use super::observation::{FileTrace, Observation};
use super::search::{Candidate, best_forms};

/// What a shared file says about the scales of both films.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharedCalibration {
    /// True scale over the film's own, film A and B.
    pub factors: [f64; 2],
    /// Lower triangle of the factors' relative covariance from the clicks.
    pub clicks: Matrix2<f64>,
    /// Relative change of the factors with the angle between the films, and with
    /// the roll of film B, 1/rad.
    pub by_angle: Vector2<f64>,
    pub by_roll: Vector2<f64>,
    /// Relative half width of the file's length, shared by both.
    pub length_half_width: f64,
}

/// Lengths farther apart than this are two lengths, mm: the file was set anew
/// between the films.
pub const SAME_LENGTH_MM: f64 = 0.05;

/// Draws from which the covariance of the factors is read.
const DRAWS: usize = 200;

/// True scales in mm/px of two films on which one straight object of known
/// length shows, from its shadows (Δu, Δv) in px, parallel rays, receptor
/// turned by `between_rad`: the heights tell the ratio, the length the rest
/// (DERIVED).
pub fn scales_of_straight_object(
    length_mm: f64,
    shadows_px: [Vector2<f64>; 2],
    between_rad: f64,
) -> [f64; 2] {
    let [a, b] = shadows_px;
    let ratio = a.y / b.y;
    let (sine, cosine) = between_rad.sin_cos();
    let depth = (b.x * ratio - a.x * cosine) / sine;
    let first = length_mm / (a.norm_squared() + depth * depth).sqrt();
    [first, first * ratio]
}

/// A file lies about this far (standard deviation) beside the middle of the
/// canal it stands in, mm (own assumption: half of the play of a thin file).
const BESIDE_CANAL_MM: f64 = 0.05;

/// Step of the difference quotients of angle and roll, rad.
const TURN_STEP_RAD: f64 = 0.01;

/// The scales of both films from a file that stands in the same place on both;
/// `None` where there is none, or its traces give no curve.
pub fn calibrate(sides: &[Observation; 2], views: [View; 2]) -> Option<SharedCalibration> {
    let [a, b] = sides;
    let files = [a.file.as_ref()?, b.file.as_ref()?];
    if (files[0].true_length_mm - files[1].true_length_mm).abs() > SAME_LENGTH_MM {
        return None;
    }
    let length_mm = 0.5 * (files[0].true_length_mm + files[1].true_length_mm);
    let films = [0, 1].map(|f: usize| course(&sides[f], files[f], views[f]));
    let mut forms = best_forms(&films).into_iter();
    let first = forms.next()?;
    let others: Vec<Candidate> = forms.collect();
    let least = first.criterion;
    let mut solver = Solver::new(first.fitted.form, first.shortest_arc);
    let (factors, fitted) = settle(&films, length_mm, first.fitted, &mut solver)?;
    let mut off = |films: &[FilmPoints; 2]| {
        let (found, _) = settle(films, length_mm, fitted.clone(), &mut solver)?;
        Some(relative(found, factors))
    };

    // What the clicks leave unknown: the same places clicked anew.
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut covariance = Matrix2::zeros();
    let mut count = 0.0;
    for _ in 0..DRAWS {
        let drawn = [0, 1].map(|f: usize| {
            let mut film = films[f].clone();
            for (i, point) in film.points.iter_mut().enumerate() {
                let at = fitted.feet[f][i];
                *point = fitted.shadow(&films, f, at)
                    / if f == 1 { factors[1] / factors[0] } else { 1.0 }
                    + Vector2::new(normal(), normal()) * films[f].sd[i];
            }
            film
        });
        if let Some(off) = off(&drawn) {
            covariance += off * off.transpose();
            count += 1.0;
        }
    }
    let covariance = covariance / f64::max(count, 1.0) + Matrix2::identity() * 1e-14;
    let mut turned = films.clone();
    turned[1].view = turned[1].view.turned_by(TURN_STEP_RAD);
    let mut rolled = films.clone();
    for point in &mut rolled[1].points {
        *point = Rotation2::new(TURN_STEP_RAD) * *point;
    }
    let by_angle = off(&turned)? / TURN_STEP_RAD;
    let by_roll = off(&rolled)? / TURN_STEP_RAD;
    let covariance = covariance + between_forms(&films, length_mm, factors, (least, others));
    Some(SharedCalibration {
        factors,
        clicks: covariance.cholesky()?.l(),
        by_angle,
        by_roll,
        length_half_width: files[0].half_width_mm.max(files[1].half_width_mm) / length_mm,
    })
}

/// By how much factors differ from others, as a share of those.
fn relative(found: [f64; 2], from: [f64; 2]) -> Vector2<f64> {
    Vector2::new(found[0] / from[0] - 1.0, found[1] / from[1] - 1.0)
}

/// Forms less likely than this against the best are left out.
const LEAST_WEIGHT: f64 = 0.01;

/// What the choice of the file's form leaves unknown: mean squares of the
/// factors that the `others` give about those of the best, whose criterion is
/// the `least`, as often as each is likely.
fn between_forms(
    films: &[FilmPoints; 2],
    length_mm: f64,
    factors: [f64; 2],
    (least, others): (f64, Vec<Candidate>),
) -> Matrix2<f64> {
    let (mut squares, mut whole) = (Matrix2::zeros(), 1.0);
    for other in others {
        let weight = (-0.5 * (other.criterion - least)).exp();
        if weight < LEAST_WEIGHT {
            continue;
        }
        let mut solver = Solver::new(other.fitted.form, other.shortest_arc);
        if let Some((found, _)) = settle(films, length_mm, other.fitted, &mut solver) {
            let off = relative(found, factors);
            squares += off * off.transpose() * weight;
            whole += weight;
        }
    }
    squares / whole
}

/// The points that tell a file's course, stop → tip, about its middle, with the
/// view's centre moved there: its own, and those of the canal between its ends.
/// A file's few points alone would have an S-shaped canal's file bend once, and
/// take it for shorter than it is.
fn course(side: &Observation, file: &FileTrace, view: View) -> FilmPoints {
    let [stop, tip] = file.ends();
    let middle = (stop + tip) * 0.5;
    let inside = |point: &Vector2<f64>| point.y > stop.y && point.y < tip.y;
    let own = file.points[1..file.points.len() - 1].iter();
    let canal = side.points.iter().zip(&side.sd);
    let mut between: Vec<(Vector2<f64>, f64)> = own
        .map(|point| (*point, file.sd))
        .chain(canal.map(|(point, sd)| (*point, sd.hypot(BESIDE_CANAL_MM))))
        .filter(|(point, _)| inside(point))
        .collect();
    between.sort_by(|a, b| a.0.y.total_cmp(&b.0.y));
    let all = std::iter::once((stop, file.sd))
        .chain(between)
        .chain([(tip, file.sd)]);
    let (points, sd) = all.map(|(point, sd)| (point - middle, sd)).unzip();
    FilmPoints {
        view: view.with_centre(middle),
        points,
        sd,
        end_sd_along: [file.sd; 2],
    }
}

/// Scales until both ends lie at the same heights on both films and the curve
/// has the known length.
fn settle(
    films: &[FilmPoints; 2],
    length_mm: f64,
    mut fitted: Fitted,
    solver: &mut Solver,
) -> Option<([f64; 2], Fitted)> {
    let mut ratio = 1.0;
    let height = |film: &FilmPoints| film.points[film.points.len() - 1].y - film.points[0].y;
    for _ in 0..12 {
        let mut scaled = films.clone();
        for point in &mut scaled[1].points {
            *point *= ratio;
        }
        let effort = Effort {
            steps: 40,
            last_fall: 1e-9,
        };
        fitted = solver.solve(&scaled, &fitted.parameters, Some(&fitted.feet), effort);
        if !fitted.chi_square.is_finite() {
            return None;
        }
        let whole = fitted.path.length_mm();
        let modelled = [0, 1]
            .map(|f: usize| fitted.shadow(films, f, whole).y - fitted.shadow(films, f, 0.0).y);
        let observed = [0, 1].map(|f: usize| height(&scaled[f]));
        // Both films err by half each, so the step is the whole disagreement.
        let change = (modelled[1] / modelled[0]) / (observed[1] / observed[0]);
        ratio *= change;
        if (change - 1.0).abs() < 1e-9 {
            break;
        }
    }
    let common = length_mm / fitted.path.length_mm();
    Some(([common, common * ratio], fitted))
}
