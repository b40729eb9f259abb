//! A canal's walls without the noise of their points.
//!
//! A file binds where the canal is narrowest for it, and noise makes some place
//! narrow: of the walls as they were clicked the passive depth comes out too
//! coronal, and the place of contact anywhere. Each wall's distance from the
//! canal's path is taken to be a smooth function of the way along it: a cubic
//! spline whose stiffness the points decide, given what their noise is (Wahba G.
//! J R Stat Soc B 1978;40:364–72, marginal likelihood). A dozen points leave more
//! than one stiffness possible: each counts as often as it is likely.

use kurbo::{Point, Vec2};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::axis::CanalAxis;
use crate::case::{WallSide, Walls};
use crate::geometry::right_of;
use crate::measure::Model;
use crate::uncertainty::inputs::{Input, Shape};

/// Both walls of a canal, left and right, detector frame.
pub struct SmoothWalls {
    walls: [SmoothWall; 2],
}

/// One wall, detector frame.
struct SmoothWall {
    /// As placed.
    placed: Vec<Point>,
    /// Standard deviation of each.
    sd: Vec<f64>,
    /// Of each stretch between two, whether nothing was seen there; empty where
    /// none was read.
    unseen: Vec<bool>,
    /// Across the canal at each.
    across: Vec<Vec2>,
    /// How far each is moved across onto the smooth wall.
    onto: DVector<f64>,
    /// The splines that the wall may be.
    splines: Vec<Spline>,
}

/// Input of a wall before its places: which spline it is.
const SPLINE: Shape = Shape::Rectangular { half_width: 0.5 };

impl SmoothWalls {
    /// The walls beside the path of `axis`, which is `factor` times the detector
    /// frame.
    pub fn new(model: &Model, axis: &CanalAxis, factor: f64, walls: &Walls) -> Self {
        let walls = WallSide::BOTH.map(|side| {
            let placed: Vec<Point> = walls
                .side(side)
                .iter()
                .map(|&point| model.frame.detector_from_film(point))
                .collect();
            let sd = model.wall_points(walls, side);
            SmoothWall::new(placed, axis, factor, sd, walls.unseen(side))
        });
        Self { walls }
    }

    /// Of each wall's stretches whether nothing was seen there.
    pub fn unseen(&self) -> [&[bool]; 2] {
        self.walls.each_ref().map(|wall| wall.unseen.as_slice())
    }

    /// Left and right wall in mm, `factor` mm per detector unit.
    pub fn best(&self, factor: f64) -> [Vec<Point>; 2] {
        self.walls
            .each_ref()
            .map(|wall| scaled(&wall.placed, &wall.across, &wall.onto, factor))
    }

    /// What is drawn of both: of each which spline it is, then x and y of each
    /// point, detector units.
    pub fn inputs(&self) -> impl Iterator<Item = Input> {
        self.walls.iter().flat_map(|wall| {
            let places = wall.placed.iter().zip(&wall.sd);
            let places =
                places.flat_map(|(at, sd)| [at.x, at.y].map(|v| Input::normal("wall", v, *sd)));
            std::iter::once(Input::new("wall's stiffness", 0.5, SPLINE)).chain(places)
        })
    }

    /// How many these are.
    pub fn input_count(&self) -> usize {
        let counts = self.walls.each_ref().map(|wall| 1 + 2 * wall.placed.len());
        counts[0] + counts[1]
    }

    /// Left and right wall where the inputs have `values`.
    pub fn drawn(&self, values: &[f64], factor: f64) -> [Vec<Point>; 2] {
        let mut rest = values;
        self.walls.each_ref().map(|wall| {
            let (own, later) = rest.split_at(1 + 2 * wall.placed.len());
            rest = later;
            wall.drawn(own[0], &own[1..], factor)
        })
    }
}

/// Points `aside` of where they are, in mm.
fn scaled(points: &[Point], across: &[Vec2], aside: &DVector<f64>, factor: f64) -> Vec<Point> {
    let moved = points.iter().zip(across).zip(aside.iter());
    moved
        .map(|((point, across), aside)| ((point.to_vec2() + *across * *aside) * factor).to_point())
        .collect()
}

impl SmoothWall {
    fn new(
        placed: Vec<Point>,
        axis: &CanalAxis,
        factor: f64,
        sd: Vec<f64>,
        unseen: Vec<bool>,
    ) -> Self {
        let path = axis.path();
        let feet: Vec<_> = placed
            .iter()
            .map(|point| path.project((point.to_vec2() * factor).to_point()))
            .collect();
        let along: Vec<f64> = feet.iter().map(|foot| foot.length_at).collect();
        let offsets = DVector::from_iterator(feet.len(), feet.iter().map(|foot| foot.offset));
        let across = along
            .iter()
            .map(|&at| right_of(path.pose_at_length(at).direction))
            .collect();
        let in_mm: Vec<f64> = sd.iter().map(|sd| factor * sd).collect();
        let splines = splines(&along, &offsets, &in_mm);
        let mut onto = DVector::zeros(feet.len());
        for spline in &splines {
            onto += (&spline.values - &offsets) * (spline.share / factor);
        }
        let splines = splines.into_iter().map(|spline| Spline {
            values: (&spline.values - &offsets) / factor,
            ..spline
        });
        Self {
            placed,
            sd,
            unseen,
            across,
            onto,
            splines: splines.collect(),
        }
    }

    /// The wall as it may be: the spline that `which` (0 to 1) falls on, as far
    /// from its likeliest course as the points at `places` are from theirs.
    fn drawn(&self, which: f64, places: &[f64], factor: f64) -> Vec<Point> {
        let drawn = places.chunks_exact(2).map(|at| Point::new(at[0], at[1]));
        let steps: Vec<Vec2> = drawn
            .zip(&self.placed)
            .map(|(at, from)| at - *from)
            .collect();
        let sideways = steps.iter().zip(&self.across).map(|(s, a)| s.dot(*a));
        let sideways = DVector::from_iterator(steps.len(), sideways);
        let mut upto = 0.0;
        let chosen = self.splines.iter().find(|spline| {
            upto += spline.share;
            which < upto
        });
        let aside = match chosen.or(self.splines.last()) {
            Some(spline) => {
                let in_sd = DVector::from_fn(steps.len(), |i, _| sideways[i] / self.sd[i]);
                let deviation = spline.deviation(&in_sd);
                let off = DVector::from_fn(steps.len(), |i, _| deviation[i] * self.sd[i]);
                &spline.values + off - &sideways
            }
            None => DVector::zeros(steps.len()),
        };
        let moved = self.placed.iter().zip(&steps);
        let moved: Vec<Point> = moved.map(|(point, step)| *point + *step).collect();
        scaled(&moved, &self.across, &aside, factor)
    }
}

/// Most points of a wall that is smoothed; more are the film's own reading,
/// many to a millimetre.
const MOST_POINTS: usize = 400;

/// Splines less likely than this against the likeliest are left out.
const LEAST_WEIGHT: f64 = 0.01;

/// A spline through noisy values.
struct Spline {
    /// How likely it is among all that are possible.
    share: f64,
    /// Its likeliest values.
    values: DVector<f64>,
    /// Factor of the inverse of the matrix that takes the noisy values to them;
    /// `None`: they are the same.
    factor: Option<Cholesky<f64, Dyn>>,
}

impl Spline {
    /// From independent deviations of the noisy values to a deviation of the
    /// spline as probable as these leave it, each over its value's standard
    /// deviation: the posterior covariance is the matrix itself (Wahba G. J R Stat
    /// Soc B 1983;45:133–50).
    fn deviation(&self, noise: &DVector<f64>) -> DVector<f64> {
        let of = |factor: &Cholesky<f64, Dyn>| factor.l_dirty().tr_solve_lower_triangular(noise);
        let found = self.factor.as_ref().and_then(of);
        found.unwrap_or_else(|| noise.clone())
    }
}

/// The cubic splines that `values` at `along`, each with its standard deviation
/// `sd`, may come from; the values themselves where they are too few, not in
/// order, or exact.
fn splines(along: &[f64], values: &DVector<f64>, sd: &[f64]) -> Vec<Spline> {
    /// Standard deviations considered of the change of the second derivative
    /// over 1 mm, 1/mm: from straight walls to a ledge. All are as likely before
    /// the points are seen.
    const LEAST: f64 = 1e-4;
    const STEPS: i32 = 10;
    let n = along.len();
    let in_order = along.windows(2).all(|pair| pair[1] - pair[0] > 1e-6);
    let as_placed = || {
        vec![Spline {
            share: 1.0,
            values: values.clone(),
            factor: None,
        }]
    };
    let is_noisy = sd.iter().all(|sd| sd.is_finite() && *sd > 0.0);
    if !(4..=MOST_POINTS).contains(&n) || !in_order || !is_noisy {
        return as_placed();
    }
    // Everything over its own standard deviation: noise of 1.
    let in_sd = DVector::from_fn(n, |i, _| values[i] / sd[i]);
    let identity = DMatrix::identity(n, n);
    // Second derivatives by divided differences, over the root of their stretch.
    let mut bends = DMatrix::zeros(n - 2, n);
    for i in 0..n - 2 {
        let (before, after) = (along[i + 1] - along[i], along[i + 2] - along[i + 1]);
        let stretch = (0.5 * (before + after)).sqrt();
        let both = before + after;
        bends[(i, i)] = stretch * 2.0 / (before * both);
        bends[(i, i + 2)] = stretch * 2.0 / (after * both);
        bends[(i, i + 1)] = -bends[(i, i)] - bends[(i, i + 2)];
        for k in i..i + 3 {
            bends[(i, k)] *= sd[k];
        }
    }
    let penalty = bends.transpose() * &bends;
    // Each with −2 ln of its marginal likelihood, up to a constant.
    let of_walk = |walk: f64| {
        let factor = (&identity + &penalty / (walk * walk)).cholesky()?;
        let smooth = factor.solve(&in_sd);
        let misfit = in_sd.dot(&(&in_sd - &smooth));
        let diagonal = factor.l_dirty().diagonal();
        let log_determinant = 2.0 * diagonal.iter().map(|v| v.ln()).sum::<f64>();
        let cost = misfit + log_determinant + 2.0 * (n - 2) as f64 * walk.ln();
        let spline = Spline {
            share: 1.0,
            values: DVector::from_fn(n, |i, _| smooth[i] * sd[i]),
            factor: Some(factor),
        };
        Some((cost, spline))
    };
    let walks = (0..=STEPS).map(|k| LEAST * 10f64.powf(0.4 * f64::from(k)));
    let found: Vec<(f64, Spline)> = walks.filter_map(of_walk).collect();
    let least = found
        .iter()
        .map(|(cost, _)| *cost)
        .fold(f64::INFINITY, f64::min);
    let weighted = found.into_iter().map(|(cost, spline)| Spline {
        share: (-0.5 * (cost - least)).exp(),
        ..spline
    });
    let mut possible: Vec<Spline> = weighted.filter(|s| s.share > LEAST_WEIGHT).collect();
    if possible.is_empty() {
        return as_placed();
    }
    let whole: f64 = possible.iter().map(|spline| spline.share).sum();
    for spline in &mut possible {
        spline.share /= whole;
    }
    possible
}

#[cfg(test)]
mod tests {
    use super::*;

    fn along(n: usize) -> Vec<f64> {
        (0..n).map(|i| 13.0 * i as f64 / (n - 1) as f64).collect()
    }

    /// The mean of the splines, as likely as each is.
    fn smooth(along: &[f64], values: &[f64], sd: f64) -> DVector<f64> {
        let sd = vec![sd; along.len()];
        let found = splines(along, &DVector::from_column_slice(values), &sd);
        let parts = found.iter().map(|spline| &spline.values * spline.share);
        parts.fold(DVector::zeros(along.len()), |sum, part| sum + part)
    }

    /// A straight line stays as it is, and noise about it goes but for a
    /// straight line's two parameters of it: root mean square √(2/n) of the
    /// noise's (Gauss), here of 40 draws of 12 points.
    #[test]
    fn noise_about_a_straight_wall_goes() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let along = along(12);
        let line: Vec<f64> = along.iter().map(|s| 0.6 - 0.02 * s).collect();
        let exact = smooth(&along, &line, 0.05);
        assert!(exact.iter().zip(&line).all(|(a, b)| (a - b).abs() < 1e-9));
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(4);
        let mut squares = 0.0;
        for _ in 0..40 {
            let noisy = line.iter().map(|v| {
                let z: f64 = StandardNormal.sample(&mut rng);
                v + 0.05 * z
            });
            let noisy: Vec<f64> = noisy.collect();
            squares += smooth(&along, &noisy, 0.05)
                .iter()
                .zip(&line)
                .map(|(a, b)| (a - b).powi(2))
                .sum::<f64>();
        }
        let ratio = (squares / (40.0 * 12.0)).sqrt() / 0.05;
        assert!(
            (0.3..0.6).contains(&ratio),
            "{ratio} beside {}",
            (2f64 / 12.0).sqrt()
        );
    }

    /// A bulge far above the noise stays.
    #[test]
    fn what_the_points_show_stays() {
        let along = along(24);
        let wall: Vec<f64> = along
            .iter()
            .map(|s| 0.6 - 0.02 * s + 0.4 * (-(s - 6.0).powi(2)).exp())
            .collect();
        let found = smooth(&along, &wall, 0.02);
        let most = found.iter().zip(&wall).map(|(a, b)| (a - b).abs());
        let most = most.fold(0.0, f64::max);
        assert!(most < 0.03, "{most}");
        assert_eq!(smooth(&along[..3], &wall[..3], 0.02).as_slice(), &wall[..3]);
    }

    /// Deviations of unit noise have the matrix of the smoother as their
    /// covariance: what they are of each single deviation, squared and summed,
    /// is its diagonal.
    #[test]
    fn deviations_are_as_wide_as_the_smoother_says() {
        let along = along(9);
        let wall = DVector::from_fn(9, |i, _| (0.9 * i as f64).sin());
        for spline in splines(&along, &wall, &[0.3; 9]) {
            let unit = |i: usize| DVector::from_fn(9, |k, _| f64::from(u8::from(k == i)));
            let root = (0..9).map(|i| spline.deviation(&unit(i)));
            let root = DMatrix::from_columns(&root.collect::<Vec<_>>());
            let matrix = spline.factor.as_ref().unwrap().inverse();
            assert!((&root * root.transpose() - matrix).abs().max() < 1e-9);
        }
    }
}
