//! Which form the canal has in space: forms compete by a criterion, each
//! fitted from several rough starts.

use nalgebra::{Vector2, Vector3};

use super::fit::{Effort, FilmPoints, Fitted, Solver};
use super::form::{COMMON, FIRST_LENGTH, Form};
use super::geometry::place_of;
use super::path::Pose;

/// Most arcs between straight pieces.
pub const MAX_ARCS: usize = 3;
/// Arcs of the smooth forms.
const SMOOTH: [usize; 5] = [4, 6, 9, 14, 20];

/// What an arc beyond the first costs the draws less than the list, in ln m (own
/// value, tuned on phantom pairs): a curve is listed where it is there, an
/// interval must know that it may be.
const DRAWS_CHEAPER: f64 = 1.5;

/// A form in the competition.
#[derive(Clone, Debug)]
pub struct Candidate {
    pub fitted: Fitted,
    /// χ² with what the form must make up for; the least wins.
    pub criterion: f64,
    /// The same at the price of a further arc that the draws use.
    pub draw_criterion: f64,
    pub shortest_arc: f64,
}

/// Bends that are no arcs are asked for from this many residuals on, twice the
/// parameters of one bend (own limit): fewer points do not tell them apart.
const FEWEST_FOR_OTHERS: usize = 2 * (COMMON + 4);

/// A path this many times as long as the rough places one after the other has
/// gone astray: those scatter in depth, so that they are rather too long
/// already (own limit).
const MOST_OF_ROUGH: f64 = 1.5;

/// Heights at which the traces are compared for a first guess.
const ROUGH_PLACES: usize = 25;

const FULL: Effort = Effort {
    steps: 60,
    last_fall: 1e-9,
};
const SHORT: Effort = Effort {
    steps: 5,
    last_fall: 1e-3,
};

/// All forms that could be fitted, best first. An arc costs its length, its
/// turn, the plane of it and the search for its place at ln m each (m
/// residuals), as in Schwarz's criterion, with the margins of the fit on one
/// film: 4 for the first, to keep a straight canal straight, 1.5 for each
/// further one. A smooth form costs its turns and the same margin.
pub fn best_forms(films: &[FilmPoints; 2]) -> Vec<Candidate> {
    let residuals: usize = films.iter().map(|film| film.points.len() + 2).sum();
    let ln_m = (residuals as f64).ln();
    let rough = rough_places(films);
    if rough.len() < 4 {
        return Vec::new();
    }
    let rough_mm: f64 = rough
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).norm())
        .sum();
    let is_found = |fitted: &Fitted| {
        fitted.chi_square.is_finite()
            && fitted.path.length_mm() <= MOST_OF_ROUGH * rough_mm
            && !fitted.folds_back(films)
    };
    let spacing = films
        .iter()
        .map(|film| {
            (film.points[film.points.len() - 1] - film.points[0]).norm()
                / (film.points.len() - 1) as f64
        })
        .fold(f64::INFINITY, f64::min);
    let mut found: Vec<Candidate> = Vec::new();
    for arcs in 0..=MAX_ARCS {
        let form = Form::Arcs(arcs);
        if form.parameter_count() >= residuals {
            break;
        }
        let shortest_arc = if arcs > 1 {
            (0.8 * spacing).max(0.4)
        } else {
            0.3
        };
        let mut solver = Solver::new(form, shortest_arc);
        let mut tried: Vec<Fitted> = starts(arcs)
            .into_iter()
            .map(|breaks| solver.solve(films, &arcs_start(&rough, &breaks), None, SHORT))
            .filter(|fitted| fitted.chi_square.is_finite())
            .collect();
        tried.sort_by(|a, b| a.chi_square.total_cmp(&b.chi_square));
        let best = tried
            .iter()
            .take(5)
            .map(|f| solver.solve(films, &f.parameters, Some(&f.feet), FULL))
            .filter(is_found)
            .min_by(|a, b| a.chi_square.total_cmp(&b.chi_square));
        let Some(best) = best else { continue };
        let margin = match arcs {
            0 => 0.0,
            _ => 4.0 + 1.5 * (arcs - 1) as f64,
        };
        let criterion = best.chi_square + 4.0 * ln_m * arcs as f64 + margin;
        let hopeless = found
            .iter()
            .any(|c| criterion > c.criterion + 2.0 * ln_m && arcs > 1);
        let others = if residuals < FEWEST_FOR_OTHERS {
            Vec::new()
        } else {
            other_forms(arcs, &best, |form, start| {
                Solver::new(form, shortest_arc).solve(films, start, None, FULL)
            })
        };
        for fitted in std::iter::once(best).chain(others.into_iter().filter(is_found)) {
            let criterion = fitted.chi_square + 4.0 * ln_m * arcs as f64 + margin;
            found.push(Candidate {
                fitted,
                criterion,
                draw_criterion: criterion - DRAWS_CHEAPER * ln_m * arcs.saturating_sub(1) as f64,
                shortest_arc,
            });
        }
        if hopeless {
            break;
        }
    }
    let best_of_arcs = found
        .iter()
        .map(|c| c.fitted.chi_square)
        .fold(f64::INFINITY, f64::min);
    // A smooth form is only asked for where straight pieces and arcs do not
    // account for the points: χ² beyond three standard deviations of it.
    let dof = residuals as f64 - COMMON_PARAMETERS;
    if best_of_arcs > dof + 3.0 * (2.0 * dof).sqrt() || best_of_arcs > 4.0 * dof {
        for arcs in SMOOTH {
            let form = Form::Smooth(arcs);
            if form.parameter_count() >= residuals {
                break;
            }
            let mut solver = Solver::new(form, 0.0);
            let fitted = solver.solve(films, &smooth_start(&rough, arcs), None, FULL);
            if is_found(&fitted) {
                let criterion = fitted.chi_square + 2.0 * ln_m * arcs as f64 + 4.0;
                found.push(Candidate {
                    fitted,
                    criterion,
                    draw_criterion: criterion,
                    shortest_arc: 0.0,
                });
            }
        }
    }
    found.sort_by(|a, b| a.criterion.total_cmp(&b.criterion));
    found
}

/// Parameters of a straight path.
const COMMON_PARAMETERS: f64 = 7.0;

/// Places in space along the canal, matched by their share of the height: a
/// first guess, rough in depth.
pub fn rough_places(films: &[FilmPoints; 2]) -> Vec<Vector3<f64>> {
    let shift = {
        let middle = |film: &FilmPoints| {
            let [first, last] = ends(film);
            0.5 * (first.y + last.y)
        };
        middle(&films[1]) - middle(&films[0])
    };
    (0..ROUGH_PLACES)
        .filter_map(|i| {
            let share = i as f64 / (ROUGH_PLACES - 1) as f64;
            let [a, b] = [0, 1].map(|f| at_height(&films[f], share));
            let b = Vector2::new(b.x, b.y - shift);
            place_of([&films[0].view, &films[1].view], [a, b])
        })
        .collect()
}

fn ends(film: &FilmPoints) -> [Vector2<f64>; 2] {
    [film.points[0], film.points[film.points.len() - 1]]
}

/// The place of a trace at this share of its height.
fn at_height(film: &FilmPoints, share: f64) -> Vector2<f64> {
    let [first, last] = ends(film);
    let height = first.y + share * (last.y - first.y);
    for pair in film.points.windows(2) {
        let (above, below) = (pair[0], pair[1]);
        if below.y >= height && below.y > above.y {
            let part = ((height - above.y) / (below.y - above.y)).clamp(0.0, 1.0);
            return above + (below - above) * part;
        }
    }
    last
}

/// Start and end of each arc as shares of the height.
fn starts(arcs: usize) -> Vec<Vec<f64>> {
    let grid: &[f64] = match arcs {
        0 => return vec![Vec::new()],
        1 => &[0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.88, 1.0],
        2 => &[0.0, 0.25, 0.45, 0.6, 0.8, 1.0],
        _ => &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0],
    };
    let mut all = vec![Vec::new()];
    for _ in 0..arcs {
        let mut longer = Vec::new();
        for breaks in &all {
            let from = breaks.last().copied().unwrap_or(0.0);
            for (i, &start) in grid.iter().enumerate().filter(|(_, g)| **g >= from) {
                for &end in &grid[i + 1..] {
                    let mut next: Vec<f64> = breaks.clone();
                    next.extend([start, end]);
                    longer.push(next);
                }
            }
        }
        all = longer;
    }
    all
}

/// Forms of as many parameters as one of `arcs` arcs, fitted from its best: the
/// last bend tightening, and for one bend a canal that bends all the way.
fn other_forms(arcs: usize, best: &Fitted, solve: impl Fn(Form, &[f64]) -> Fitted) -> Vec<Fitted> {
    let p = &best.parameters;
    let mut tried = vec![(Form::Tightening(arcs), tightening_starts(p))];
    if arcs == 1 {
        tried.push((Form::Even, even_starts(p, best.path.length_mm())));
    }
    let best_of = |(form, starts): (Form, Vec<Vec<f64>>)| {
        let fits = starts.iter().map(|start| solve(form, start));
        fits.min_by(|a, b| a.chi_square.total_cmp(&b.chi_square))
    };
    tried.into_iter().filter_map(best_of).collect()
}

/// Starts for a canal that bends all the way, from the parameters of one arc:
/// evenly, or little at the orifice.
fn even_starts(p: &[f64], length_mm: f64) -> Vec<Vec<f64>> {
    let start = |growth: f64| {
        let mut start = p[..COMMON].to_vec();
        start[FIRST_LENGTH] = length_mm;
        start.extend([p[COMMON + 1], p[COMMON + 2], growth, 0.0]);
        start
    };
    [0.0, 1.0].map(start).to_vec()
}

/// Starts for a last bend that tightens, from the parameters of one of even
/// curvature: begun up to twice as early, to its end or to the apex. None
/// without a bend.
fn tightening_starts(p: &[f64]) -> Vec<Vec<f64>> {
    let count = p.len();
    if count < COMMON + 4 {
        return Vec::new();
    }
    // The last bend's length and those of the straight pieces beside it.
    let (before, bend, after) = (count - 5, count - 4, count - 1);
    let before = if count == COMMON + 4 {
        FIRST_LENGTH
    } else {
        before
    };
    let mut starts = Vec::new();
    for earlier in [0.0, 1.0] {
        for later in [0.0, 1.0] {
            let taken = (earlier * p[bend]).min(0.9 * p[before]);
            let mut start = p.to_vec();
            start[before] -= taken;
            start[bend] += taken + later * p[after];
            start[after] *= 1.0 - later;
            starts.push(start);
        }
    }
    starts
}

/// Direction of the rough places from share `from` to share `to`.
fn direction(rough: &[Vector3<f64>], from: f64, to: f64) -> Vector3<f64> {
    let last = rough.len() - 1;
    let place = |share: f64| (share * last as f64).round() as usize;
    let (mut first, mut end) = (place(from), place(to));
    // At least three places, so that one odd one does not decide.
    while end - first < 2 {
        first = first.saturating_sub(1);
        if end < last {
            end += 1;
        }
    }
    let count = (end - first + 1) as f64;
    let mean = rough[first..=end].iter().sum::<Vector3<f64>>() / count;
    // Regression on the place's number.
    let middle = 0.5 * (first + end) as f64;
    let mut slope = Vector3::zeros();
    for (i, place) in rough[first..=end].iter().enumerate() {
        slope += (place - mean) * ((first + i) as f64 - middle);
    }
    let norm = slope.norm();
    if norm > 1e-9 {
        // Steeper than 75° to the axis is a poor start.
        let mut direction = slope / norm;
        direction.z = direction.z.max(0.25);
        direction.normalize()
    } else {
        Vector3::z()
    }
}

fn common(rough: &[Vector3<f64>], first: &Vector3<f64>, length: f64) -> Vec<f64> {
    let start = rough[0];
    vec![
        start.x,
        start.y,
        start.z,
        first.x / first.z,
        first.y / first.z,
        0.0,
        length,
    ]
}

fn length_of(rough: &[Vector3<f64>]) -> f64 {
    (rough[rough.len() - 1] - rough[0]).norm().max(1.0)
}

fn arcs_start(rough: &[Vector3<f64>], breaks: &[f64]) -> Vec<f64> {
    let length = length_of(rough);
    let first_end = breaks.first().copied().unwrap_or(1.0);
    let first = direction(rough, 0.0, first_end);
    let mut p = common(rough, &first, length * first_end);
    let mut pose = Pose::new(rough[0], [p[3], p[4]]);
    for (i, arc) in breaks.chunks_exact(2).enumerate() {
        let next = breaks.get(2 * i + 2).copied().unwrap_or(1.0);
        let towards = direction(rough, arc[1], next);
        let turn = pose.turn_towards(&towards);
        let arc_length = length * (arc[1] - arc[0]);
        pose = pose.advanced(arc_length, turn);
        p.extend([arc_length, turn[0], turn[1], length * (next - arc[1])]);
    }
    p
}

fn smooth_start(rough: &[Vector3<f64>], arcs: usize) -> Vec<f64> {
    let whole = direction(rough, 0.0, 1.0);
    let mut p = common(rough, &whole, length_of(rough));
    p.extend(std::iter::repeat_n(0.0, 2 * arcs));
    p
}
