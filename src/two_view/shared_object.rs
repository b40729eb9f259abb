//! One file of known length seen on both films calibrates both, and takes out
//! the foreshortening that each film hides from itself.

use nalgebra::{Matrix2, Vector2};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::fit::{Effort, FilmPoints, Fitted, Solver};
use super::geometry::View;
use super::observation::FileTrace;
use super::search::{Candidate, best_forms};

/// What a shared file says about the scales of both films.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharedCalibration {
    /// True scale over the film's own, film A and B.
    pub factors: [f64; 2],
    /// Lower triangle of the factors' relative covariance from the clicks.
    pub clicks: Matrix2<f64>,
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

/// The scales of both films from a file that stands in the same place on both;
/// `None` where its traces give no curve.
pub fn calibrate(files: [&FileTrace; 2], views: [View; 2]) -> Option<SharedCalibration> {
    let length_mm = 0.5 * (files[0].true_length_mm + files[1].true_length_mm);
    let films = [0, 1].map(|f| centred(files[f], views[f]));
    let mut forms = best_forms(&films).into_iter();
    let first = forms.next()?;
    let others: Vec<Candidate> = forms.collect();
    let least = first.criterion;
    let mut solver = Solver::new(first.fitted.form, first.shortest_arc);
    let (factors, fitted) = settle(&films, length_mm, first.fitted, &mut solver)?;

    // What the clicks leave unknown: the same places clicked anew.
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut covariance = Matrix2::zeros();
    let mut count = 0.0;
    for _ in 0..DRAWS {
        let drawn = [0, 1].map(|f| {
            let mut film = films[f].clone();
            for (i, point) in film.points.iter_mut().enumerate() {
                let at = fitted.feet[f][i];
                *point = fitted.shadow(&films, f, at)
                    / if f == 1 { factors[1] / factors[0] } else { 1.0 }
                    + Vector2::new(normal(), normal()) * files[f].sd;
            }
            film
        });
        if let Some((found, _)) = settle(&drawn, length_mm, fitted.clone(), &mut solver) {
            let off = Vector2::new(found[0] / factors[0] - 1.0, found[1] / factors[1] - 1.0);
            covariance += off * off.transpose();
            count += 1.0;
        }
    }
    let covariance = covariance / f64::max(count, 1.0) + Matrix2::identity() * 1e-14;
    let covariance = covariance + between_forms(&films, length_mm, factors, (least, others));
    Some(SharedCalibration {
        factors,
        clicks: covariance.cholesky()?.l(),
        length_half_width: files[0].half_width_mm.max(files[1].half_width_mm) / length_mm,
    })
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
            let off = Vector2::new(found[0] / factors[0] - 1.0, found[1] / factors[1] - 1.0);
            squares += off * off.transpose() * weight;
            whole += weight;
        }
    }
    squares / whole
}

/// Points about the middle of the trace, with the view's centre moved there.
fn centred(file: &FileTrace, view: View) -> FilmPoints {
    let ends = [file.points[0], file.points[file.points.len() - 1]];
    let middle = (ends[0] + ends[1]) * 0.5;
    FilmPoints {
        view: view.with_centre(middle),
        points: file.points.iter().map(|p| p - middle).collect(),
        sd: vec![file.sd; file.points.len()],
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
        let modelled =
            [0, 1].map(|f| fitted.shadow(films, f, whole).y - fitted.shadow(films, f, 0.0).y);
        let observed = [0, 1].map(|f| height(&scaled[f]));
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
