//! Residuals of a trace about a path of equal arcs, with their derivatives.

use kurbo::{Point, Vec2};

use super::{ALL, BASE, PIECES, Vector};
use crate::geometry::right_of;
use crate::geometry::straight_arc_path::{Pose, StraightArcPath};

/// Residuals of a trace about one path and their derivatives.
pub(super) struct Linearised {
    /// Derivatives, row by row, weighted.
    pub jacobian: Vec<Vector>,
    pub normals: Vec<Vec2>,
    pub weights: Vec<f64>,
    /// JᵀJ and Jᵀy, y the residuals if all parameters were zero.
    pub normal: Box<[Vector; ALL]>,
    pub right: Vector,
    /// yᵀy.
    pub square: f64,
}

/// Points, the weight of each in χ², and their standard deviation.
#[derive(Clone, Copy)]
pub(in super::super) struct Trace<'a> {
    pub points: &'a [Point],
    pub weights: &'a [f64],
    pub point_sd: f64,
}

impl Trace<'_> {
    fn weight(&self, index: usize) -> f64 {
        self.weights.get(index).copied().unwrap_or(1.0)
    }
}

/// Parameters of the path nearest to `path` that is made of equal arcs.
pub(super) fn parameters_of(path: &StraightArcPath) -> Vector {
    let mut row = [0.0; ALL];
    let start = path.start();
    (row[0], row[1], row[2], row[3]) = (start.x, start.y, path.heading_rad(), path.length());
    let at = |k: usize| path.heading_at_length_rad(path.length() * k as f64 / PIECES as f64);
    for k in 0..PIECES {
        row[BASE + k] = at(k + 1) - at(k);
    }
    row
}

fn poses_of(parameters: &Vector) -> [Pose; PIECES + 1] {
    let mut pose = Pose::new(Point::new(parameters[0], parameters[1]), parameters[2]);
    let step = parameters[3] / PIECES as f64;
    let mut poses = [pose; PIECES + 1];
    for k in 0..PIECES {
        pose = pose.advanced(step, parameters[BASE + k]);
        poses[k + 1] = pose;
    }
    poses
}

impl Linearised {
    pub fn about(parameters: &Vector, trace: &Trace<'_>) -> Self {
        let poses = poses_of(parameters);
        let start = poses[0].point;
        let step = parameters[3] / PIECES as f64;
        let middles: [Point; PIECES] =
            std::array::from_fn(|k| poses[k].point.midpoint(poses[k + 1].point));
        let count = trace.points.len() + 2;
        let mut out = Self {
            jacobian: Vec::with_capacity(count),
            normals: Vec::with_capacity(count),
            weights: Vec::with_capacity(count),
            normal: Box::new([[0.0; ALL]; ALL]),
            right: [0.0; ALL],
            square: 0.0,
        };
        let mut put =
            |normal: Vec2, foot: Point, piece: usize, part: f64, residual: f64, weight: f64| {
                let mut row = [0.0; ALL];
                row[0] = normal.x;
                row[1] = normal.y;
                row[2] = normal.dot(right_of(foot - start));
                row[3] = normal.dot(foot - start) / parameters[3];
                for k in 0..piece {
                    row[BASE + k] = normal.dot(right_of(foot - middles[k]));
                }
                if piece < PIECES {
                    let along = part * step;
                    row[BASE + piece] =
                        normal.dot(right_of(poses[piece].direction)) * 0.5 * part * along;
                }
                let fitted: f64 = row.iter().zip(parameters).map(|(j, p)| j * p).sum();
                let y = (residual + fitted) * weight;
                for entry in &mut row {
                    *entry *= weight;
                }
                for (i, a) in row.iter().enumerate() {
                    if *a != 0.0 {
                        for (entry, b) in out.normal[i][..=i].iter_mut().zip(&row) {
                            *entry += a * b;
                        }
                        out.right[i] += a * y;
                    }
                }
                out.square += y * y;
                out.jacobian.push(row);
                out.normals.push(normal);
                out.weights.push(weight);
            };
        let last = trace.points.len() - 1;
        let mut piece = 0;
        for (index, &point) in trace.points.iter().enumerate() {
            let weight = trace.weight(index).sqrt();
            let ends = if index == 0 {
                Some((start, 0))
            } else if index == last {
                Some((poses[PIECES].point, PIECES))
            } else {
                None
            };
            if let Some((end, piece)) = ends {
                for normal in [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)] {
                    put(normal, end, piece, 0.0, normal.dot(point - end), weight);
                }
                continue;
            }
            let past_start = |k: usize| (point - poses[k].point).dot(poses[k].direction) >= 0.0;
            while piece > 0 && !past_start(piece) {
                piece -= 1;
            }
            while piece + 1 < PIECES && past_start(piece + 1) {
                piece += 1;
            }
            let turn = parameters[BASE + piece];
            let curvature = turn / step;
            let side = right_of(poses[piece].direction);
            let away = point - poses[piece].point;
            let (x, y) = (away.dot(poses[piece].direction), away.dot(side));
            let along = (curvature * x).atan2(1.0 - curvature * y);
            let along = if curvature.abs() < 1e-12 {
                x
            } else {
                along / curvature
            };
            let foot = poses[piece].advanced(along, curvature * along);
            let normal = right_of(foot.direction);
            put(
                normal,
                foot.point,
                piece,
                along / step,
                normal.dot(point - foot.point),
                weight,
            );
        }
        out
    }
}

/// Logarithm of the determinant of the part of place, heading and length.
pub(super) fn base_log_determinant(lin: &Linearised) -> f64 {
    let mut factor = [[0.0; BASE]; BASE];
    let mut log = 0.0;
    for i in 0..BASE {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
            let sum = lin.normal[i][j] - known;
            if i == j {
                log += sum.max(f64::MIN_POSITIVE).ln();
                factor[i][i] = sum.max(f64::MIN_POSITIVE).sqrt();
            } else {
                factor[i][j] = sum / factor[j][j];
            }
        }
    }
    log
}
