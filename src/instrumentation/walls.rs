//! A canal's walls without the noise of their points.
//!
//! A file binds where the canal is narrowest for it, and noise makes some place
//! narrow: of the walls as they were clicked the passive depth comes out too
//! coronal, and the place of contact anywhere. Each wall's distance from the
//! canal's path is taken to be a smooth function of the way along it: a cubic
//! spline whose stiffness the points decide, given what their noise is (Wahba G.
//! J R Stat Soc B 1978;40:364–72, marginal likelihood).

use kurbo::{Point, Vec2};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::axis::CanalAxis;
use crate::case::Walls;
use crate::geometry::right_of;
use crate::measure::Model;

/// Both walls of a canal, left and right.
pub struct SmoothWalls([SmoothWall; 2]);

/// One wall, detector frame.
struct SmoothWall {
    /// As placed.
    placed: Vec<Point>,
    /// Where they lie on the smooth wall.
    smooth: Vec<Point>,
    /// Across the canal at each.
    across: Vec<Vec2>,
    /// From deviations of the points across to those of the smooth wall.
    root: DMatrix<f64>,
}

impl SmoothWalls {
    /// The walls beside the path of `axis`, which is `factor` times the detector
    /// frame.
    pub fn new(model: &Model, axis: &CanalAxis, factor: f64, walls: &Walls) -> Self {
        let sd_mm = factor * model.wall_point(walls.u_px);
        Self([&walls.left_px, &walls.right_px].map(|wall| {
            let placed: Vec<Point> = wall
                .iter()
                .map(|&point| model.frame.detector_from_film(point))
                .collect();
            SmoothWall::new(placed, axis, factor, sd_mm)
        }))
    }

    /// Left and right wall in mm, `factor` mm per detector unit.
    pub fn best(&self, factor: f64) -> [Vec<Point>; 2] {
        self.0
            .each_ref()
            .map(|wall| scaled(wall.smooth.iter().copied(), factor))
    }

    /// The same where the points were placed at `places`: x and y of each, left
    /// wall first, detector units.
    pub fn drawn(&self, places: &[f64], factor: f64) -> [Vec<Point>; 2] {
        let mut next = places.chunks_exact(2).map(|at| Point::new(at[0], at[1]));
        self.0.each_ref().map(|wall| {
            let moved: Vec<Vec2> = wall
                .placed
                .iter()
                .map(|placed| next.next().map_or(Vec2::ZERO, |at| at - *placed))
                .collect();
            scaled(wall.moved(&moved).into_iter(), factor)
        })
    }
}

fn scaled(points: impl Iterator<Item = Point>, factor: f64) -> Vec<Point> {
    points
        .map(|point| (point.to_vec2() * factor).to_point())
        .collect()
}

impl SmoothWall {
    fn new(placed: Vec<Point>, axis: &CanalAxis, factor: f64, sd_mm: f64) -> Self {
        let path = axis.path();
        let feet: Vec<_> = placed
            .iter()
            .map(|point| path.project((point.to_vec2() * factor).to_point()))
            .collect();
        let along: Vec<f64> = feet.iter().map(|foot| foot.length_at).collect();
        let offsets: Vec<f64> = feet.iter().map(|foot| foot.offset).collect();
        let across: Vec<Vec2> = along
            .iter()
            .map(|&at| right_of(path.pose_at_length(at).direction))
            .collect();
        let Smoother { matrix, root } = Smoother::of(&along, &offsets, sd_mm);
        let smoothed = matrix * DVector::from_column_slice(&offsets);
        let smooth = placed.iter().zip(&across).enumerate();
        let smooth = smooth
            .map(|(i, (point, across))| *point + *across * ((smoothed[i] - offsets[i]) / factor));
        Self {
            smooth: smooth.collect(),
            placed,
            across,
            root,
        }
    }

    /// A wall that may be where points are drawn so far from where they are.
    fn moved(&self, steps: &[Vec2]) -> Vec<Point> {
        let sideways = steps.iter().zip(&self.across).map(|(s, a)| s.dot(*a));
        let sideways = DVector::from_iterator(steps.len(), sideways);
        let smooth = &self.root * &sideways;
        let points = self.smooth.iter().zip(&self.across).enumerate();
        points
            .map(|(i, (point, across))| {
                let along = steps[i] - *across * sideways[i];
                *point + along + *across * smooth[i]
            })
            .collect()
    }
}

/// Most points of a wall that is smoothed; more are the film's own reading,
/// many to a millimetre.
const MOST_POINTS: usize = 400;

/// What takes noisy values to those of the likeliest cubic spline.
struct Smoother {
    /// From values to the spline's.
    matrix: DMatrix<f64>,
    /// From independent deviations of the values to a deviation of the spline
    /// as probable as the values leave it: the root of the posterior covariance
    /// over the noise's variance, which is the matrix itself (Wahba G. J R Stat
    /// Soc B 1983;45:133–50).
    root: DMatrix<f64>,
}

impl Smoother {
    /// For `values` at `along` with the standard deviation `sd` each; nothing
    /// changes where the points are too few, not in order, or exact.
    fn of(along: &[f64], values: &[f64], sd: f64) -> Self {
        let identity = || DMatrix::identity(along.len(), along.len());
        let found = factor(along, values, sd).and_then(|factor| {
            let root = factor.l().transpose().try_inverse()?;
            Some(Self {
                matrix: factor.inverse(),
                root,
            })
        });
        found.unwrap_or_else(|| Self {
            matrix: identity(),
            root: identity(),
        })
    }
}

/// Factor of the inverse of the likeliest spline's matrix.
fn factor(along: &[f64], values: &[f64], sd: f64) -> Option<Cholesky<f64, Dyn>> {
    /// Standard deviations considered of the change of the second derivative
    /// over 1 mm, 1/mm: from straight walls to a ledge.
    const LEAST: f64 = 1e-4;
    const STEPS: i32 = 10;
    let n = along.len();
    let identity = DMatrix::identity(n, n);
    let in_order = along.windows(2).all(|pair| pair[1] - pair[0] > 1e-6);
    if !(4..=MOST_POINTS).contains(&n) || !in_order || sd.is_nan() || sd <= 0.0 {
        return None;
    }
    // Second derivatives by divided differences, over the root of their stretch.
    let mut bends = DMatrix::zeros(n - 2, n);
    for i in 0..n - 2 {
        let (before, after) = (along[i + 1] - along[i], along[i + 2] - along[i + 1]);
        let stretch = (0.5 * (before + after)).sqrt();
        let both = before + after;
        bends[(i, i)] = stretch * 2.0 / (before * both);
        bends[(i, i + 2)] = stretch * 2.0 / (after * both);
        bends[(i, i + 1)] = -bends[(i, i)] - bends[(i, i + 2)];
    }
    let penalty = bends.transpose() * &bends * (sd * sd);
    let values = DVector::from_column_slice(values);
    let of_walk = |walk: f64| {
        let matrix = &identity + &penalty / (walk * walk);
        let factor = matrix.cholesky()?;
        let misfit = values.dot(&(&values - factor.solve(&values))) / (sd * sd);
        let diagonal = factor.l_dirty().diagonal();
        let log_determinant = 2.0 * diagonal.iter().map(|v| v.ln()).sum::<f64>();
        let cost = misfit + log_determinant + 2.0 * (n - 2) as f64 * walk.ln();
        Some((cost, factor))
    };
    let walks = (0..=STEPS).map(|k| LEAST * 10f64.powf(0.4 * f64::from(k)));
    let found = walks.filter_map(of_walk);
    let best = found.min_by(|a, b| a.0.total_cmp(&b.0));
    best.map(|(_, factor)| factor)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn along(n: usize) -> Vec<f64> {
        (0..n).map(|i| 13.0 * i as f64 / (n - 1) as f64).collect()
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
        let exact = Smoother::of(&along, &line, 0.05).matrix * DVector::from_column_slice(&line);
        assert!(exact.iter().zip(&line).all(|(a, b)| (a - b).abs() < 1e-9));
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(4);
        let mut squares = 0.0;
        for _ in 0..40 {
            let noisy = line.iter().map(|v| {
                let z: f64 = StandardNormal.sample(&mut rng);
                v + 0.05 * z
            });
            let noisy: Vec<f64> = noisy.collect();
            let smooth =
                Smoother::of(&along, &noisy, 0.05).matrix * DVector::from_column_slice(&noisy);
            squares += smooth
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
        let found = Smoother::of(&along, &wall, 0.02).matrix * DVector::from_column_slice(&wall);
        let most = found.iter().zip(&wall).map(|(a, b)| (a - b).abs());
        let most = most.fold(0.0, f64::max);
        assert!(most < 0.03, "{most}");
        let Smoother { matrix, root } = Smoother::of(&along, &wall, 0.02);
        assert!((&root * root.transpose() - &matrix).abs().max() < 1e-9);
        let none = Smoother::of(&along[..3], &wall[..3], 0.02);
        assert_eq!(none.matrix, DMatrix::identity(3, 3));
    }
}
