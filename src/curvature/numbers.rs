//! The results as plain numbers, for Monte Carlo.

use super::curve_by_curve::is_s_shaped;
use super::{Curvature, CurvatureQuantity, CurvatureSettings, Difficulty, DifficultyClass};
use crate::curvature::catalogue::QUANTITIES;
use crate::geometry::MAX_ARCS;

/// A number of one curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CurveQuantity {
    /// Signed turn, rad.
    Turn,
    /// Radius.
    Radius,
    /// Length of its arcs.
    ArcLength,
    /// Length from its start to the apical end.
    StartFromApex,
    /// Length from its end to the apical end.
    EndFromApex,
    /// Schneider's angle of this curve alone, rad.
    Schneider,
}

const SINGLE: usize = CurvatureQuantity::COUNT;
/// The two numbers the class is read from.
const OF_CLASS: usize = 2;
const BEFORE_CURVES: usize = SINGLE + OF_CLASS;
const PER_CURVE: usize = 6;

/// Place of a number in [`CurvatureNumbers::values`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CurvatureNumber {
    /// Of the canal, or of the curve that a method measures.
    Whole(CurvatureQuantity),
    /// [`super::Difficulty::angle_rad`].
    ClassAngle,
    /// [`Curvature::opposed_turn_rad`].
    OpposedTurn,
    /// Of one curve; 0 is the most apical one.
    Curve(usize, CurveQuantity),
}

impl CurvatureNumber {
    /// Number of numbers.
    pub const COUNT: usize = BEFORE_CURVES + PER_CURVE * MAX_ARCS;

    /// Its place; `None` for a curve beyond [`MAX_ARCS`].
    pub fn index(self) -> Option<usize> {
        match self {
            Self::Whole(quantity) => Some(quantity as usize),
            Self::ClassAngle => Some(SINGLE),
            Self::OpposedTurn => Some(SINGLE + 1),
            Self::Curve(curve, quantity) => {
                (curve < MAX_ARCS).then_some(BEFORE_CURVES + PER_CURVE * curve + quantity as usize)
            }
        }
    }

    /// Whether the number at that place is a radius.
    fn is_radius(index: usize) -> bool {
        match index.checked_sub(BEFORE_CURVES) {
            None => QUANTITIES
                .get(index)
                .is_some_and(|row| row.dimension == super::Dimension::Radius),
            Some(of_curves) => of_curves % PER_CURVE == CurveQuantity::Radius as usize,
        }
    }

    /// Whether the number at that place is an angle that is stated on its own.
    pub fn is_angle(index: usize) -> bool {
        match index.checked_sub(BEFORE_CURVES) {
            None => QUANTITIES
                .get(index)
                .is_some_and(|row| row.dimension == super::Dimension::Angle),
            Some(of_curves) => of_curves % PER_CURVE == CurveQuantity::Turn as usize,
        }
    }
}

/// Weighted mean of numbers over several forms of a path. Radii by their
/// curvatures: a radius has no mean where a form is almost straight.
#[derive(Clone, Debug)]
pub struct MeanNumbers {
    sums: [f64; CurvatureNumber::COUNT],
    weights: [f64; CurvatureNumber::COUNT],
    curve_count: usize,
}

impl Default for MeanNumbers {
    fn default() -> Self {
        Self {
            sums: [0.0; CurvatureNumber::COUNT],
            weights: [0.0; CurvatureNumber::COUNT],
            curve_count: 0,
        }
    }
}

impl MeanNumbers {
    /// Takes in the numbers of one form; without its radii where its bends are
    /// kinks, which have none.
    pub fn add(&mut self, numbers: &CurvatureNumbers, weight: f64, with_radii: bool) {
        self.curve_count = self.curve_count.max(numbers.curve_count);
        for (index, &value) in numbers.values.iter().enumerate() {
            let value = match CurvatureNumber::is_radius(index) {
                true if with_radii => value.recip(),
                true => f64::NAN,
                false => value,
            };
            if value.is_finite() {
                self.sums[index] += weight * value;
                self.weights[index] += weight;
            }
        }
    }

    /// The mean, of each number over the forms that have it; `None` without
    /// forms. A number that half of the forms lack is none.
    pub fn numbers(&self) -> Option<CurvatureNumbers> {
        let all = self.weights.iter().copied().fold(0.0, f64::max);
        (all > 0.0).then(|| CurvatureNumbers {
            values: std::array::from_fn(|index| {
                let mean = self.sums[index] / self.weights[index];
                match 2.0 * self.weights[index] >= all {
                    true if CurvatureNumber::is_radius(index) => mean.recip(),
                    true => mean,
                    false => f64::NAN,
                }
            }),
            curve_count: self.curve_count,
        })
    }
}

/// Every number of a [`Curvature`]; NaN where there is none. Curves are
/// counted from the apex, so that the same curve keeps its place when a
/// coronal one comes or goes between draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvatureNumbers {
    /// By [`CurvatureNumber::index`].
    pub values: [f64; CurvatureNumber::COUNT],
    /// Number of curves.
    pub curve_count: usize,
}

impl CurvatureNumbers {
    /// The value of `number`; NaN where there is none.
    pub fn get(&self, number: CurvatureNumber) -> f64 {
        number.index().map_or(f64::NAN, |index| self.values[index])
    }
}

impl Curvature {
    /// The same with class and S shape of other numbers, such as the mean over
    /// several forms.
    pub fn with_class_of(
        mut self,
        numbers: &CurvatureNumbers,
        settings: &CurvatureSettings,
    ) -> Self {
        let angle_rad = numbers.get(CurvatureNumber::ClassAngle);
        self.opposed_turn_rad = numbers.get(CurvatureNumber::OpposedTurn);
        self.s_shaped = is_s_shaped(self.opposed_turn_rad, settings.s_shape_threshold_rad);
        self.difficulty = Difficulty {
            class: DifficultyClass::of(angle_rad, self.s_shaped),
            method: if self.s_shaped {
                "s_shape"
            } else {
                "schneider"
            },
            angle_rad: Some(angle_rad).filter(|angle| angle.is_finite()),
            ..self.difficulty
        };
        self
    }

    /// Every number of these results.
    pub fn numbers(&self) -> CurvatureNumbers {
        let mut values = [f64::NAN; CurvatureNumber::COUNT];
        for (value, row) in values.iter_mut().zip(&QUANTITIES) {
            *value = (row.of)(self).unwrap_or(f64::NAN);
        }
        values[SINGLE] = self.difficulty.angle_rad.unwrap_or(f64::NAN);
        values[SINGLE + 1] = self.opposed_turn_rad;
        let slots = values[BEFORE_CURVES..].chunks_exact_mut(PER_CURVE);
        for (slot, curve) in slots.zip(self.curves.iter().rev()) {
            slot.copy_from_slice(&[
                curve.turn_rad,
                curve.radius,
                curve.arc_length,
                curve.start_from_apex,
                curve.end_from_apex,
                curve.schneider_rad,
            ]);
        }
        CurvatureNumbers {
            values,
            curve_count: self.curves.len(),
        }
    }
}
