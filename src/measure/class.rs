//! How likely each difficulty class of a canal is.

use super::catalogue::LengthQuantity;
use super::class_probabilities::ClassProbabilities;
use super::intervals::Intervals;
use super::model::Model;
use crate::curvature::{CurvatureNumber, CurveQuantity, DifficultyClass, curve_by_curve};
use crate::geometry::MAX_ARCS;
use crate::statistics::normal_share_above;
use crate::uncertainty::monte_carlo::Draws;

/// Probabilities of a canal's class and of its S shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClassShares {
    pub classes: ClassProbabilities,
    pub s_shaped: f64,
}

/// Index of a number of class among all outputs.
fn output(canal: usize, number: CurvatureNumber) -> Option<usize> {
    Some(Model::canal_offset(canal) + LengthQuantity::COUNT + number.index()?)
}

/// The class of a canal in each draw; `None` where a draw gives no angle.
pub fn classes_drawn(
    draws: &Draws,
    canal: usize,
    s_shape_least_turn_rad: f64,
) -> Option<Vec<Option<DifficultyClass>>> {
    let angles = draws.output(output(canal, CurvatureNumber::ClassAngle)?)?;
    let opposed = draws.output(output(canal, CurvatureNumber::OpposedTurn)?)?;
    let classes = angles
        .into_iter()
        .zip(opposed)
        .map(|(angle_rad, opposed_rad)| {
            let is_s = curve_by_curve::is_s_shaped(opposed_rad, s_shape_least_turn_rad);
            DifficultyClass::of(angle_rad, is_s)
        });
    Some(classes.collect())
}

impl ClassShares {
    /// Counted over the draws that gave an angle; `None` without one.
    pub fn of_draws(draws: &Draws, canal: usize, s_shape_least_turn_rad: f64) -> Option<Self> {
        let angles = draws.output(output(canal, CurvatureNumber::ClassAngle)?)?;
        let opposed = draws.output(output(canal, CurvatureNumber::OpposedTurn)?)?;
        let mut classes = ClassProbabilities::default();
        let (mut counted, mut s_shaped) = (0.0, 0.0);
        for (angle_rad, opposed_rad) in angles.into_iter().zip(opposed) {
            let is_s = curve_by_curve::is_s_shaped(opposed_rad, s_shape_least_turn_rad);
            if let Some(class) = DifficultyClass::of(angle_rad, is_s) {
                *classes.slot(class) += 1.0;
                counted += 1.0;
                s_shaped += f64::from(u8::from(is_s));
            }
        }
        if counted == 0.0 {
            return None;
        }
        for class in DifficultyClass::ALL {
            *classes.slot(class) /= counted;
        }
        Some(Self {
            classes,
            s_shaped: s_shaped / counted,
        })
    }

    /// By the linear law: normal distributions about the best estimates, the S
    /// shape taken as independent of the angle. For numbers that follow a drag.
    pub fn of_law(
        intervals: &Intervals,
        canal: usize,
        s_shape_least_turn_rad: f64,
    ) -> Option<Self> {
        let u_of = |number| {
            let u = intervals.standard_uncertainties[output(canal, number)?];
            Some(u).filter(|u| u.is_finite())
        };
        // The angle's own slopes are those of one form, with a leap where the
        // worst curve changes; its curve's turn is as uncertain and has none.
        let of_turns = (0..MAX_ARCS)
            .filter_map(|curve| u_of(CurvatureNumber::Curve(curve, CurveQuantity::Turn)))
            .reduce(f64::max);
        let above = |number, limit: f64| {
            let value = intervals.values[output(canal, number)?];
            let u = match (number, of_turns) {
                (CurvatureNumber::ClassAngle, Some(u)) => u,
                _ => u_of(number)?,
            };
            normal_share_above(limit, value, u)
        };
        let angle = CurvatureNumber::ClassAngle;
        let s_shaped = above(CurvatureNumber::OpposedTurn, s_shape_least_turn_rad)?;
        let [moderate_or_high, high] = DifficultyClass::LIMITS_RAD.map(|limit| above(angle, limit));
        let (moderate_or_high, high) = (moderate_or_high?, high?);
        let not_s = 1.0 - s_shaped;
        Some(Self {
            classes: ClassProbabilities {
                low: not_s * (1.0 - moderate_or_high),
                moderate: not_s * (moderate_or_high - high),
                high: not_s * high + s_shaped,
            },
            s_shaped,
        })
    }
}
