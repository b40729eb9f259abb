//! Canals of shapes that are no straight pieces and arcs, with their truth by
//! closed form or fine quadrature: what a fit of any kind is proved on.
//!
//! Lengths in mm, angles in rad, positive turns clockwise on the film. Every
//! shape starts at the orifice with its coronal end along +y.

use std::f64::consts::{FRAC_PI_2, PI};

use kurbo::{Point, Vec2};
use rand::{Rng, RngExt};

/// A family of canal shapes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Straight pieces and one arc, with a tail.
    StraightArc,
    /// Part of an ellipse, from its flat side towards its end.
    Ellipse,
    /// A parabola towards its vertex.
    Parabola,
    /// A bend that comes and goes by clothoids.
    ClothoidRamps,
    /// Curvature that grows evenly up to the apex.
    ClothoidToApex,
    /// Heading by a hyperbolic tangent.
    TanhBend,
    /// Curvature by a squared sine.
    SineSquared,
    /// Curvature by half a sine.
    HalfSine,
    /// A logarithmic spiral: the radius shrinks evenly.
    Spiral,
    /// Two opposed bends, curvature by a whole sine.
    SOfSines,
}

impl Family {
    /// All families.
    pub const ALL: [Self; 10] = [
        Self::StraightArc,
        Self::Ellipse,
        Self::Parabola,
        Self::ClothoidRamps,
        Self::ClothoidToApex,
        Self::TanhBend,
        Self::SineSquared,
        Self::HalfSine,
        Self::Spiral,
        Self::SOfSines,
    ];

    /// The family in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::StraightArc => "straight–arc",
            Self::Ellipse => "ellipse",
            Self::Parabola => "parabola",
            Self::ClothoidRamps => "clothoid ramps",
            Self::ClothoidToApex => "clothoid to the apex",
            Self::TanhBend => "tanh bend",
            Self::SineSquared => "sin²",
            Self::HalfSine => "half-sine",
            Self::Spiral => "spiral",
            Self::SOfSines => "S of sines",
        }
    }

    /// A shape of the family, of sizes that canals have.
    pub fn random(self, rng: &mut impl Rng) -> Shape {
        let turn = rng.random_range(20.0..55.0_f64).to_radians();
        let coronal = rng.random_range(5.0..9.0);
        let wide: f64 = rng.random_range(4.0..8.0);
        let tail = rng.random_range(0.5..3.0);
        match self {
            Self::StraightArc => {
                let radius = rng.random_range(4.0..10.0);
                let arc = radius * turn;
                Shape::of_curvature(coronal + arc + tail, |s| {
                    f64::from(u8::from((coronal..coronal + arc).contains(&s))) / radius
                })
            }
            Self::Ellipse => {
                let long = rng.random_range(10.0..14.0);
                Shape::ellipse(long, rng.random_range(0.4..0.75) * long, turn)
            }
            Self::Parabola => Shape::parabola(rng.random_range(9.0..15.0), turn),
            Self::ClothoidRamps => {
                let ramp: f64 = rng.random_range(1.5..3.0);
                let top = turn / (wide - ramp).max(1.0);
                let wide = turn / top + ramp;
                Shape::of_curvature(coronal + wide + tail, |s| {
                    let at = s - coronal;
                    top * (at.min(wide - at) / ramp).clamp(0.0, 1.0)
                })
            }
            Self::ClothoidToApex => Shape::of_curvature(coronal + wide, |s| {
                2.0 * turn / wide.powi(2) * (s - coronal).max(0.0)
            }),
            Self::TanhBend => {
                let width = rng.random_range(1.2..2.5);
                let middle = coronal + 2.0 * width;
                Shape::of_curvature(middle + 2.0 * width + tail, |s| {
                    0.5 * turn / width * ((s - middle) / width).cosh().powi(-2)
                })
            }
            Self::SineSquared => Shape::of_curvature(coronal + wide + tail, |s| {
                let at = ((s - coronal) / wide).clamp(0.0, 1.0);
                2.0 * turn / wide * (PI * at).sin().powi(2)
            }),
            Self::HalfSine => Shape::of_curvature(coronal + wide + tail, |s| {
                let at = ((s - coronal) / wide).clamp(0.0, 1.0);
                FRAC_PI_2 * turn / wide * (PI * at).sin().max(0.0)
            }),
            Self::Spiral => {
                let first = rng.random_range(20.0..40.0);
                let last = rng.random_range(4.0..9.0);
                // ∫ ds / (first − m s) = ln(first/last) / m.
                let shrink = f64::ln(first / last) / turn;
                Shape::of_curvature((first - last) / shrink, |s| 1.0 / (first - shrink * s))
            }
            Self::SOfSines => {
                let wide = 2.0 * rng.random_range(4.0..6.0);
                let top = PI * turn / wide;
                let second = rng.random_range(0.6..1.0);
                Shape::of_curvature(coronal + wide + 0.5 * tail, |s| {
                    let at = ((s - coronal) / wide).clamp(0.0, 1.0);
                    let wave = (2.0 * PI * at).sin();
                    top * if wave < 0.0 { second * wave } else { wave }
                })
            }
        }
    }
}

/// Distance between the places a shape is tabulated at, mm.
const STEP_MM: f64 = 0.002;
/// A curve starts where the curvature first reaches this share of the curve's
/// greatest, and ends where it last does.
const CURVE_FROM: f64 = 0.1;

/// A canal of any shape, tabulated along its length.
#[derive(Clone, Debug)]
pub struct Shape {
    step: f64,
    points: Vec<Point>,
    headings: Vec<f64>,
    curvatures: Vec<f64>,
}

/// One true curve of a shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShapeCurve {
    /// Signed turn, rad.
    pub turn_rad: f64,
    /// Length from the orifice to where it starts and ends, mm.
    pub span_mm: [f64; 2],
}

impl Shape {
    /// The shape of that curvature (rad per mm) along its length.
    ///
    /// Heading and place by the midpoint rule on steps of 0.002 mm: errors
    /// below 1e-6 rad and 1e-6 mm for smooth curvature.
    pub fn of_curvature(length_mm: f64, curvature: impl Fn(f64) -> f64) -> Self {
        let count = (length_mm / STEP_MM).ceil() as usize;
        let step = length_mm / count as f64;
        let (mut heading, mut point) = (FRAC_PI_2, Point::ORIGIN);
        let mut shape = Self {
            step,
            points: vec![point],
            headings: vec![heading],
            curvatures: vec![curvature(0.0)],
        };
        for k in 0..count {
            let turn = curvature((k as f64 + 0.5) * step) * step;
            point += Vec2::from_angle(heading + 0.5 * turn) * step;
            heading += turn;
            shape.points.push(point);
            shape.headings.push(heading);
            let at = ((k + 1) as f64 * step).min(length_mm);
            shape.curvatures.push(curvature(at));
        }
        shape
    }

    /// The ellipse of half axes `long` and `short` from the end of its short
    /// axis until it has turned by `turn_rad` (below a quarter turn).
    pub fn ellipse(long: f64, short: f64, turn_rad: f64) -> Self {
        // Eccentric angle t from the flat side: the heading turns by
        // atan(short/long tan t).
        let last = (long / short * turn_rad.tan()).atan();
        let speed = |t: f64| (long * t.cos()).hypot(short * t.sin());
        Self::of_parameter(last, speed, |t| long * short / speed(t).powi(3))
    }

    /// The parabola of focal radius 1/(2c), from `reach` mm off its axis to its
    /// vertex, whose steepness makes it turn by `turn_rad`.
    pub fn parabola(reach: f64, turn_rad: f64) -> Self {
        let c = 0.5 * turn_rad.tan() / reach;
        let slope = |t: f64| 2.0 * c * (reach - t);
        let speed = |t: f64| slope(t).hypot(1.0);
        Self::of_parameter(reach, speed, |t| 2.0 * c / speed(t).powi(3))
    }

    /// The curve of that speed and curvature over a parameter from 0 to `last`.
    fn of_parameter(last: f64, speed: impl Fn(f64) -> f64, curvature: impl Fn(f64) -> f64) -> Self {
        const STEPS: usize = 20_000;
        let dt = last / STEPS as f64;
        let mut lengths = vec![0.0];
        for k in 0..STEPS {
            let middle = (k as f64 + 0.5) * dt;
            lengths.push(lengths[k] + speed(middle) * dt);
        }
        let at_length = |s: f64| {
            let after = lengths.partition_point(|&l| l <= s).clamp(1, STEPS);
            let (from, to) = (lengths[after - 1], lengths[after]);
            let part = ((s - from) / (to - from)).clamp(0.0, 1.0);
            curvature((after as f64 - 1.0 + part) * dt)
        };
        Self::of_curvature(lengths[STEPS], at_length)
    }

    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        self.step * (self.points.len() - 1) as f64
    }

    /// The place at `length_mm` from the orifice, within the shape.
    pub fn point_at_mm(&self, length_mm: f64) -> Point {
        let at = (length_mm / self.step).clamp(0.0, (self.points.len() - 1) as f64);
        let index = (at.floor() as usize).min(self.points.len() - 2);
        self.points[index].lerp(self.points[index + 1], at - index as f64)
    }

    /// Signed turn from start to end, rad.
    pub fn net_turn_rad(&self) -> f64 {
        self.headings[self.headings.len() - 1] - self.headings[0]
    }

    /// Radius where it is tightest, mm.
    pub fn smallest_radius_mm(&self) -> f64 {
        self.curvatures
            .iter()
            .fold(0.0f64, |k, c| k.max(c.abs()))
            .recip()
    }

    /// Its curves from the orifice, split where the turning changes sign.
    pub fn curves(&self) -> Vec<ShapeCurve> {
        let mut curves = Vec::new();
        let mut from = 0;
        while from < self.curvatures.len() {
            let sign = self.curvatures[from].signum();
            let is_same = |k: &f64| *k != 0.0 && k.signum() == sign;
            if self.curvatures[from] == 0.0 {
                from += 1;
                continue;
            }
            let stretch = &self.curvatures[from..];
            let count = stretch.iter().take_while(|k| is_same(k)).count();
            let top = stretch[..count].iter().fold(0.0f64, |m, k| m.max(k.abs()));
            let bends = |k: &f64| k.abs() >= CURVE_FROM * top;
            let first = stretch[..count].iter().position(bends).unwrap_or(0);
            let last = stretch[..count]
                .iter()
                .rposition(bends)
                .unwrap_or(count - 1);
            let end = (from + count).min(self.headings.len() - 1);
            curves.push(ShapeCurve {
                turn_rad: self.headings[end] - self.headings[from.saturating_sub(1)],
                span_mm: [from + first, from + last].map(|k| k as f64 * self.step),
            });
            from += count;
        }
        curves
    }

    /// Schneider's angle of its last curve, rad: between the tangent where it
    /// starts and the line from there to the apex.
    pub fn schneider_rad(&self) -> f64 {
        let start = self.curves().last().map_or(0.0, |curve| curve.span_mm[0]);
        let index = ((start / self.step).round() as usize).min(self.points.len() - 2);
        let chord = self.points[self.points.len() - 1] - self.points[index];
        let axis = Vec2::from_angle(self.headings[index]);
        axis.cross(chord).abs().atan2(axis.dot(chord))
    }

    /// `count` places evenly along it, orifice and apex among them.
    pub fn places(&self, count: usize) -> impl Iterator<Item = Point> {
        let share = move |i: usize| i as f64 / (count - 1).max(1) as f64;
        (0..count).map(move |i| self.point_at_mm(self.length_mm() * share(i)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// Closed forms: a circle as an ellipse of equal axes; the smallest radius
    /// of an ellipse at its end, b²/a, and of a parabola at its vertex, 1/(2c).
    #[test]
    fn truths_are_closed_forms() {
        let near = |a: f64, b: f64, within: f64| assert!((a - b).abs() < within, "{a} {b}");
        let circle = Shape::ellipse(8.0, 8.0, 0.7);
        near(circle.length_mm(), 5.6, 1e-6);
        near(circle.smallest_radius_mm(), 8.0, 1e-9);
        near(circle.net_turn_rad(), 0.7, 1e-6);
        near(
            circle.point_at_mm(5.6).distance(Point::ORIGIN),
            16.0 * 0.35f64.sin(),
            1e-5,
        );
        let ellipse = Shape::ellipse(12.0, 6.0, 1.2);
        near(ellipse.net_turn_rad(), 1.2, 1e-6);
        let t = (2.0 * 1.2f64.tan()).atan();
        let place = Point::new(12.0 * t.sin(), 6.0 * (1.0 - t.cos()));
        near(
            ellipse
                .point_at_mm(ellipse.length_mm())
                .distance(Point::ORIGIN),
            place.distance(Point::ORIGIN),
            1e-5,
        );
        let parabola = Shape::parabola(10.0, 0.6);
        near(parabola.net_turn_rad(), 0.6, 1e-6);
        near(parabola.smallest_radius_mm(), 10.0 / 0.6f64.tan(), 1e-3);
    }

    /// Every family turns to one side, the S to both, and is as long as a canal.
    #[test]
    fn families_are_canals() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        for family in Family::ALL {
            for _ in 0..20 {
                let shape = family.random(&mut rng);
                let expected = if family == Family::SOfSines { 2 } else { 1 };
                assert_eq!(shape.curves().len(), expected, "{family:?}");
                assert!((6.0..32.0).contains(&shape.length_mm()), "{family:?}");
                assert!(
                    (1.0..60.0).contains(&shape.smallest_radius_mm()),
                    "{family:?}"
                );
                assert!(shape.schneider_rad() > 0.0);
            }
        }
    }
}
