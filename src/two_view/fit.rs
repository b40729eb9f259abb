//! One curve in space fitted to the points of two films at once: each film's
//! own distances count, so that nothing is triangulated and joined up.
//!
//! Residuals are the distances of the points from the curve's shadow on their
//! film, for the two end points also along it, over the standard deviation of
//! the point; one more for every arc that bends more sharply than canals do. The
//! unknown shift between the heights of the films is one of the parameters.
//! Gauss–Newton steps with Levenberg's and Marquardt's damping; lengths are kept
//! from going below their least.

use nalgebra::{DMatrix, DVector, Vector2, Vector3};

use super::form::{COMMON, Form, SHIFT};
use super::geometry::View;
use super::path::{Pose, SpacePath};
use super::sharp_arcs::too_sharp;

/// The points of one film in mm of the tooth's plane, orifice → apex.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmPoints {
    pub view: View,
    pub points: Vec<Vector2<f64>>,
    /// Standard deviation of each point per coordinate, mm.
    pub sd: Vec<f64>,
    /// The same of the two ends along the canal, where more is unknown.
    pub end_sd_along: [f64; 2],
}

/// How long to look for the least sum of squares.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    pub steps: usize,
    /// Expected fall of χ² below which a step is the last.
    pub last_fall: f64,
}

/// A form with the parameters that fit best.
#[derive(Clone, Debug)]
pub struct Fitted {
    pub form: Form,
    pub parameters: Vec<f64>,
    pub path: SpacePath,
    /// Sum of squared residuals, each over its standard deviation, those of arcs
    /// that bend too sharply among them.
    pub chi_square: f64,
    /// Where each point's foot lies along the path, mm; film by film.
    pub feet: Vec<Vec<f64>>,
}

impl Fitted {
    /// Shift of film B's heights against film A's, mm.
    pub fn shift_mm(&self) -> f64 {
        self.parameters[SHIFT]
    }

    /// Where a point of the path shows on a film (0: A, 1: B), mm.
    pub fn shadow(&self, films: &[FilmPoints; 2], film: usize, along_mm: f64) -> Vector2<f64> {
        shifted(
            films[film].view.shadow(&self.path.at(along_mm).place),
            film,
            self.shift_mm(),
        )
    }
}

/// A path whose shadow on a film is this many times as long as the trace there
/// folds back between the points (own limit).
const MOST_OF_TRACE: f64 = 1.05;
/// Distance between the places that a shadow's length is taken from, mm.
const SHADOW_STEP_MM: f64 = 0.25;

impl Fitted {
    /// Whether its shadow on a film folds back between the points there.
    pub fn folds_back(&self, films: &[FilmPoints; 2]) -> bool {
        let places = self.path.places(SHADOW_STEP_MM);
        films.iter().any(|film| {
            let shadow: Vec<_> = places.iter().map(|p| film.view.shadow(p)).collect();
            let shadow_mm = way_mm(&shadow);
            shadow_mm.is_nan() || shadow_mm > MOST_OF_TRACE * way_mm(&film.points)
        })
    }
}

fn way_mm(line: &[Vector2<f64>]) -> f64 {
    line.windows(2).map(|pair| (pair[1] - pair[0]).norm()).sum()
}

fn shifted(shadow: Vector2<f64>, film: usize, shift_mm: f64) -> Vector2<f64> {
    Vector2::new(shadow.x, shadow.y + if film == 1 { shift_mm } else { 0.0 })
}

/// A fit in progress; its memory serves many fits.
#[derive(Debug)]
pub struct Solver {
    form: Form,
    shortest_arc: f64,
    path: SpacePath,
    moved: SpacePath,
    feet: Vec<Vec<f64>>,
    matrix: DMatrix<f64>,
    gradient: DVector<f64>,
    row: Vec<f64>,
    shadows: Vec<Vector2<f64>>,
    slopes: Vec<Vec<Vector2<f64>>>,
}

/// Step of the difference quotients, mm or rad.
const DIFFERENCE: f64 = 1e-6;

impl Solver {
    /// For paths of `form` whose arcs are at least `shortest_arc` mm long.
    pub fn new(form: Form, shortest_arc: f64) -> Self {
        let count = form.parameter_count();
        Self {
            form,
            shortest_arc,
            path: SpacePath::new(Pose::new(Vector3::zeros(), [0.0; 2]), Vec::new()),
            moved: SpacePath::new(Pose::new(Vector3::zeros(), [0.0; 2]), Vec::new()),
            feet: Vec::new(),
            matrix: DMatrix::zeros(count, count),
            gradient: DVector::zeros(count),
            row: vec![0.0; count],
            shadows: Vec::new(),
            slopes: Vec::new(),
        }
    }

    /// Least squares from `start`. `feet` are first guesses of the feet along
    /// the path; without them the points' shares of their trace serve.
    pub fn solve(
        &mut self,
        films: &[FilmPoints; 2],
        start: &[f64],
        feet: Option<&[Vec<f64>]>,
        effort: Effort,
    ) -> Fitted {
        let form = self.form;
        let count = form.parameter_count();
        let mut p: Vec<f64> = start.to_vec();
        for (i, value) in p.iter_mut().enumerate() {
            *value = value.max(form.least(i, self.shortest_arc));
        }
        form.rebuild(&p, &mut self.path);
        match feet {
            Some(feet) => self.feet = feet.to_vec(),
            None => {
                let length = self.path.length_mm();
                let shares = |film: &FilmPoints| shares(&film.points, length);
                self.feet = films.iter().map(shares).collect();
            }
        }
        self.find_feet(films, &p);
        let mut chi_square = self.chi_square(films, &p);
        let mut damping = 1e-6;
        let mut fresh = false;
        for _ in 0..effort.steps {
            if !fresh {
                self.normal_equations(films, &p);
                fresh = true;
            }
            let Some((step, fall)) = self.step(&p, damping) else {
                damping = (damping * 10.0).max(1e-3);
                if damping > 1e9 {
                    break;
                }
                continue;
            };
            let trial: Vec<f64> = (0..count)
                .map(|i| (p[i] + step[i]).max(form.least(i, self.shortest_arc)))
                .collect();
            let kept = self.feet.clone();
            form.rebuild(&trial, &mut self.path);
            self.find_feet(films, &trial);
            let found = self.chi_square(films, &trial);
            // Written so that NaN is no improvement.
            if found < chi_square {
                let gain = chi_square - found;
                p = trial;
                chi_square = found;
                fresh = false;
                damping = (damping * 0.1).max(1e-9);
                if gain < effort.last_fall && fall < 10.0 * effort.last_fall {
                    break;
                }
            } else {
                self.feet = kept;
                form.rebuild(&p, &mut self.path);
                if fall < effort.last_fall || damping > 1e9 {
                    break;
                }
                damping = (damping * 10.0).max(1e-3);
            }
        }
        Fitted {
            form,
            path: form.path(&p),
            parameters: p,
            chi_square,
            feet: self.feet.clone(),
        }
    }

    /// Standard covariance of the parameters near a fit; those in `fixed` are
    /// held. `None` where the points do not determine them.
    pub fn covariance(
        &mut self,
        films: &[FilmPoints; 2],
        fitted: &Fitted,
        fixed: &[usize],
    ) -> Option<DMatrix<f64>> {
        self.form.rebuild(&fitted.parameters, &mut self.path);
        self.feet.clone_from(&fitted.feet);
        self.find_feet(films, &fitted.parameters);
        self.normal_equations(films, &fitted.parameters);
        let mut matrix = self.matrix.clone();
        for &i in fixed {
            matrix.row_mut(i).fill(0.0);
            matrix.column_mut(i).fill(0.0);
            matrix[(i, i)] = 1.0;
        }
        let mut inverse = matrix.cholesky()?.inverse();
        for &i in fixed {
            inverse[(i, i)] = 0.0;
        }
        Some(inverse)
    }

    /// The step towards the least χ² and the fall expected of it; parameters
    /// at their least that would go lower are held.
    fn step(&self, p: &[f64], damping: f64) -> Option<(DVector<f64>, f64)> {
        let count = p.len();
        let mut held: Vec<bool> = (0..count)
            .map(|i| {
                p[i] <= self.form.least(i, self.shortest_arc) + 1e-12 && self.gradient[i] > 0.0
            })
            .collect();
        for _ in 0..=count {
            let mut matrix = self.matrix.clone();
            let mut right = -self.gradient.clone();
            for i in 0..count {
                matrix[(i, i)] *= 1.0 + damping;
                matrix[(i, i)] += 1e-12;
                if held[i] {
                    matrix.row_mut(i).fill(0.0);
                    matrix.column_mut(i).fill(0.0);
                    matrix[(i, i)] = 1.0;
                    right[i] = 0.0;
                }
            }
            let step = matrix.cholesky()?.solve(&right);
            if step.iter().any(|s| !s.is_finite()) {
                return None;
            }
            // A parameter already at its least must not be pushed below.
            let pushed = (0..count).find(|&i| {
                !held[i] && step[i] < 0.0 && p[i] <= self.form.least(i, self.shortest_arc) + 1e-12
            });
            if let Some(i) = pushed {
                held[i] = true;
                continue;
            }
            let fall = -2.0 * self.gradient.dot(&step) - step.dot(&(&self.matrix * &step));
            return Some((step, fall));
        }
        None
    }

    fn find_feet(&mut self, films: &[FilmPoints; 2], p: &[f64]) {
        let length = self.path.length_mm();
        for (f, film) in films.iter().enumerate() {
            let last = film.points.len() - 1;
            for (i, point) in film.points.iter().enumerate() {
                let foot = &mut self.feet[f][i];
                if i == 0 || i == last {
                    *foot = if i == 0 { 0.0 } else { length };
                    continue;
                }
                for _ in 0..8 {
                    let pose = self.path.at(*foot);
                    let away = point - shifted(film.view.shadow(&pose.place), f, p[SHIFT]);
                    let slope = film.view.shadow_step(&pose.place, &pose.direction);
                    let step = away.dot(&slope) / slope.norm_squared().max(1e-6);
                    let step = step.clamp(-2.0, 2.0);
                    *foot = (*foot + step).clamp(-1.0, length + 1.0);
                    if step.abs() < 1e-7 {
                        break;
                    }
                }
            }
        }
    }

    fn chi_square(&self, films: &[FilmPoints; 2], p: &[f64]) -> f64 {
        let mut sum = 0.0;
        for arc in too_sharp(self.form.arcs(p), self.form.last_tighter()) {
            sum += arc.residual().powi(2);
        }
        for (f, film) in films.iter().enumerate() {
            let last = film.points.len() - 1;
            for (i, point) in film.points.iter().enumerate() {
                let pose = self.path.at(self.feet[f][i]);
                let away = point - shifted(film.view.shadow(&pose.place), f, p[SHIFT]);
                let along = unit(film.view.shadow_step(&pose.place, &pose.direction));
                sum += (away.perp(&along) / film.sd[i]).powi(2);
                if i == 0 || i == last {
                    sum += (away.dot(&along) / film.end_sd_along[usize::from(i == last)]).powi(2);
                }
            }
        }
        sum
    }

    fn add_too_sharp(&mut self, p: &[f64]) {
        for arc in too_sharp(self.form.arcs(p), self.form.last_tighter()) {
            let first = COMMON + arc.first;
            let slopes = arc.slopes();
            for (i, a) in slopes.iter().enumerate() {
                self.gradient[first + i] += a * arc.residual();
                for (j, b) in slopes[..=i].iter().enumerate() {
                    self.matrix[(first + i, first + j)] += a * b;
                }
            }
        }
    }

    fn normal_equations(&mut self, films: &[FilmPoints; 2], p: &[f64]) {
        let count = p.len();
        self.matrix.fill(0.0);
        self.gradient.fill(0.0);
        // Derivatives of every foot's shadow at its place along the path.
        self.slopes.clear();
        self.shadows.clear();
        for (f, film) in films.iter().enumerate() {
            for &foot in &self.feet[f] {
                self.shadows
                    .push(film.view.shadow(&self.path.at(foot).place));
            }
        }
        let mut moved = p.to_vec();
        for j in 0..count {
            moved[j] = p[j] + DIFFERENCE;
            let mut column = Vec::with_capacity(self.shadows.len());
            if j == SHIFT {
                for (f, feet) in self.feet.iter().enumerate() {
                    column.extend(feet.iter().map(|_| Vector2::new(0.0, f as f64)));
                }
            } else {
                self.form.rebuild(&moved, &mut self.moved);
                let mut next = self.shadows.iter();
                for (f, film) in films.iter().enumerate() {
                    for (i, &foot) in self.feet[f].iter().enumerate() {
                        let is_end = i + 1 == film.points.len();
                        let at = if is_end { self.moved.length_mm() } else { foot };
                        let shadow = film.view.shadow(&self.moved.at(at).place);
                        let before = next.next().copied().unwrap_or_default();
                        column.push((shadow - before) / DIFFERENCE);
                    }
                }
            }
            self.slopes.push(column);
            moved[j] = p[j];
        }
        let mut index = 0;
        for (f, film) in films.iter().enumerate() {
            let last = film.points.len() - 1;
            for (i, point) in film.points.iter().enumerate() {
                let pose = self.path.at(self.feet[f][i]);
                let away = point - shifted(self.shadows[index], f, p[SHIFT]);
                let along = unit(film.view.shadow_step(&pose.place, &pose.direction));
                let across = Vector2::new(-along.y, along.x);
                self.add_row(index, across / film.sd[i], away);
                if i == 0 || i == last {
                    let sd = film.end_sd_along[usize::from(i == last)];
                    self.add_row(index, along / sd, away);
                }
                index += 1;
            }
        }
        self.add_too_sharp(p);
        for i in 0..count {
            for j in 0..i {
                self.matrix[(j, i)] = self.matrix[(i, j)];
            }
        }
    }

    fn add_row(&mut self, index: usize, weight: Vector2<f64>, away: Vector2<f64>) {
        let residual = weight.dot(&away);
        for (entry, column) in self.row.iter_mut().zip(&self.slopes) {
            *entry = -weight.dot(&column[index]);
        }
        for (i, &a) in self.row.iter().enumerate() {
            self.gradient[i] += a * residual;
            for (j, &b) in self.row[..=i].iter().enumerate() {
                self.matrix[(i, j)] += a * b;
            }
        }
    }
}

fn unit(v: Vector2<f64>) -> Vector2<f64> {
    let length = v.norm();
    if length > 1e-9 {
        v / length
    } else {
        Vector2::y()
    }
}

/// Each point's share of its trace's chord length, times `length`.
fn shares(points: &[Vector2<f64>], length: f64) -> Vec<f64> {
    let mut along = vec![0.0];
    for pair in points.windows(2) {
        along.push(along[along.len() - 1] + (pair[1] - pair[0]).norm());
    }
    let whole = along[along.len() - 1].max(1e-12);
    along.into_iter().map(|a| a / whole * length).collect()
}

#[cfg(test)]
mod tests {
    use super::super::geometry::Receptor;
    use super::super::path::Piece;
    use super::*;

    /// A straight canal of 10 mm clicked every 2 mm; a path there that turns
    /// about and back between two clicks has a shadow of 14 mm.
    #[test]
    fn a_hairpin_folds_back() {
        let film = |angle_rad| FilmPoints {
            view: View::new(angle_rad, Receptor::Turned, None),
            points: (0..6)
                .map(|i| Vector2::new(0.0, 2.0 * f64::from(i)))
                .collect(),
            sd: vec![0.05; 6],
            end_sd_along: [0.05; 2],
        };
        let films = [film(0.0), film(0.5)];
        let path = |pieces: &[(f64, f64)]| Fitted {
            form: Form::Arcs(0),
            parameters: vec![0.0; COMMON],
            path: SpacePath::new(
                Pose::new(Vector3::zeros(), [0.0; 2]),
                pieces
                    .iter()
                    .map(|&(length_mm, turn)| Piece {
                        length_mm,
                        turn_rad: [turn, 0.0],
                    })
                    .collect(),
            ),
            chi_square: 0.0,
            feet: Vec::new(),
        };
        assert!(!path(&[(10.0, 0.0)]).folds_back(&films));
        let half = std::f64::consts::PI;
        let hairpin = [
            (6.0, 0.0),
            (0.1, half),
            (1.9, 0.0),
            (0.1, -half),
            (5.9, 0.0),
        ];
        assert!(path(&hairpin).folds_back(&films));
    }
}
