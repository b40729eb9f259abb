//! The results as plain numbers, for Monte Carlo.

use super::{Curvature, CurvatureQuantity};
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
