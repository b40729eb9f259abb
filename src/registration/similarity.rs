//! The least-squares similarity without mirroring (Umeyama 1991, IEEE Trans
//! Pattern Anal Mach Intell 13:376–380, MEM).
//!
//! In the plane the singular value decomposition of that paper has a closed
//! form: the rotation that is best without mirroring is the direction of
//! (Σ x·y, Σ x×y), so that a reflection cannot come out of it at all.

use kurbo::{Point, Vec2};
use thiserror::Error;

/// Marks whose spread across their common line is a smaller share of the spread
/// along it lie in a line (own choice).
const LEAST_BREADTH: f64 = 0.05;

/// A rotation, a scale and a shift: no mirroring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    /// Length in the second frame over length in the first.
    pub scale: f64,
    /// Positive turns clockwise on the film.
    pub rotation_rad: f64,
    /// Where the first frame's origin comes to lie.
    pub shift: Vec2,
}

impl Similarity {
    /// A point of the first frame in the second.
    pub fn map(&self, point: Point) -> Point {
        (rotated(point.to_vec2(), self.rotation_rad) * self.scale + self.shift).to_point()
    }

    /// From the second frame to the first.
    #[must_use]
    pub fn inverse(&self) -> Self {
        Self {
            scale: self.scale.recip(),
            rotation_rad: -self.rotation_rad,
            shift: rotated(self.shift, -self.rotation_rad) / -self.scale,
        }
    }
}

fn rotated(v: Vec2, angle_rad: f64) -> Vec2 {
    let (sin, cos) = angle_rad.sin_cos();
    Vec2::new(cos * v.x - sin * v.y, sin * v.x + cos * v.y)
}

/// What is known about the scale between two frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// To be found from the marks.
    Free,
    /// Known: length in the second frame over length in the first.
    Fixed(f64),
}

impl Scale {
    /// Number of parameters of a similarity with such a scale.
    pub fn parameter_count(self) -> usize {
        match self {
            Scale::Free => 4,
            Scale::Fixed(_) => 3,
        }
    }
}

/// Why marks cannot be registered.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum RegistrationError {
    /// Too few pairs.
    #[error("{given} marks on both; place at least three, better four, around the canal")]
    TooFewMarks {
        /// Number of pairs given.
        given: usize,
    },
    /// A coordinate that is no number.
    #[error("mark {} is not a finite place", index + 1)]
    NotFinite {
        /// Index of the first such pair.
        index: usize,
    },
    /// Marks in a line, or on each other.
    #[error("the marks lie in a line; place one well to the side, so that they surround the canal")]
    InLine,
}

/// A similarity found from marks.
#[derive(Clone, Debug, PartialEq)]
pub struct Registration {
    /// First frame → second frame.
    pub transform: Similarity,
    /// Root mean square distance of the mapped marks from their partners,
    /// second frame.
    pub residual_rms: f64,
    /// What the residual would be if one picture were turned over. Much
    /// smaller than `residual_rms`: the pictures show opposite sides.
    pub mirrored_residual_rms: f64,
    /// Distance of each mapped mark from its partner, second frame.
    pub residuals: Vec<f64>,
}

impl Registration {
    /// Index of the mark that fits worst.
    pub fn worst(&self) -> usize {
        let by_size = |a: &usize, b: &usize| self.residuals[*a].total_cmp(&self.residuals[*b]);
        (0..self.residuals.len()).max_by(by_size).unwrap_or(0)
    }
}

/// The similarity that brings `from` nearest to `to`, pair by pair.
///
/// # Errors
/// [`RegistrationError`] for fewer than three pairs or marks that lie in a line.
pub fn register(
    from: &[Point],
    to: &[Point],
    scale: Scale,
) -> Result<Registration, RegistrationError> {
    let given = from.len().min(to.len());
    if given < 3 {
        return Err(RegistrationError::TooFewMarks { given });
    }
    let (from, to) = (&from[..given], &to[..given]);
    let pairs = from.iter().zip(to);
    if let Some(index) = pairs
        .clone()
        .position(|(x, y)| !x.is_finite() || !y.is_finite())
    {
        return Err(RegistrationError::NotFinite { index });
    }
    if in_line(from) || in_line(to) {
        return Err(RegistrationError::InLine);
    }
    let transform = best(from, to, scale);
    let residuals: Vec<f64> = pairs.map(|(&x, y)| transform.map(x).distance(*y)).collect();
    let mirrored: Vec<Point> = from.iter().map(|p| Point::new(-p.x, p.y)).collect();
    let turned_over = best(&mirrored, to, scale);
    let mirrored_residuals = mirrored.iter().zip(to);
    Ok(Registration {
        transform,
        residual_rms: rms(residuals.iter().copied()),
        mirrored_residual_rms: rms(
            mirrored_residuals.map(|(&x, y)| turned_over.map(x).distance(*y))
        ),
        residuals,
    })
}

fn best(from: &[Point], to: &[Point], scale: Scale) -> Similarity {
    let (from_mean, to_mean) = (centroid(from), centroid(to));
    let (mut dot, mut cross, mut spread) = (0.0, 0.0, 0.0);
    for (x, y) in from.iter().zip(to) {
        let (x, y) = (*x - from_mean, *y - to_mean);
        dot += x.dot(y);
        cross += x.cross(y);
        spread += x.hypot2();
    }
    let scale = match scale {
        Scale::Free => dot.hypot(cross) / spread,
        Scale::Fixed(scale) => scale,
    };
    let rotation_rad = cross.atan2(dot);
    Similarity {
        scale,
        rotation_rad,
        shift: to_mean.to_vec2() - rotated(from_mean.to_vec2(), rotation_rad) * scale,
    }
}

/// Mean place.
pub fn centroid(points: &[Point]) -> Point {
    let sum = points.iter().fold(Vec2::ZERO, |sum, p| sum + p.to_vec2());
    (sum / points.len() as f64).to_point()
}

fn rms(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    (values.map(|v| v * v).sum::<f64>() / count).sqrt()
}

/// Spread across over spread along the common line, from the eigenvalues of
/// the scatter.
fn in_line(points: &[Point]) -> bool {
    let mean = centroid(points);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for p in points {
        let d = *p - mean;
        xx += d.x * d.x;
        yy += d.y * d.y;
        xy += d.x * d.y;
    }
    let half = 0.5 * (xx + yy);
    let difference = (0.5 * (xx - yy)).hypot(xy);
    let (along, across) = (half + difference, half - difference);
    // No spread at all is a line too.
    across <= LEAST_BREADTH * LEAST_BREADTH * along
}
