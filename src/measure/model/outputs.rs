//! The outputs of a model as one flat vector: the scale, then every number of
//! every canal. A number that does not exist is NaN there and nowhere else.

use crate::curvature::CurvatureNumber;
use crate::measure::catalogue::{CANAL_OUTPUTS, LengthQuantity};

/// What an output is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputKind {
    /// The scale, or a [`LengthQuantity`].
    Length,
    /// An angle or a turn.
    Angle,
    /// Radius, length or place of a curve.
    CurvePlace,
}

impl OutputKind {
    /// The kind of the output at that index of the whole vector.
    pub fn of(output: usize) -> Self {
        let Some(after_scale) = output.checked_sub(1) else {
            return Self::Length;
        };
        let in_canal = after_scale % CANAL_OUTPUTS;
        match in_canal.checked_sub(LengthQuantity::COUNT) {
            None => Self::Length,
            Some(number) if CurvatureNumber::is_angle(number) => Self::Angle,
            Some(_) => Self::CurvePlace,
        }
    }
}

/// The lengths of one canal, mm; `None` where one does not exist.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lengths([Option<f64>; LengthQuantity::COUNT]);

impl Lengths {
    /// States a length.
    pub fn set(&mut self, quantity: LengthQuantity, length_mm: Option<f64>) {
        self.0[quantity as usize] = length_mm;
    }

    /// Writes them where the outputs of their canal start.
    pub fn write(&self, out: &mut [f64]) {
        for (out, length) in out.iter_mut().zip(self.0) {
            *out = length.unwrap_or(f64::NAN);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curvature::{CurvatureQuantity, CurveQuantity};

    #[test]
    fn outputs_are_told_apart_in_every_canal() {
        assert_eq!(OutputKind::of(0), OutputKind::Length);
        for canal in 0..3 {
            let at = |number: CurvatureNumber| {
                let in_canal = LengthQuantity::COUNT + number.index().unwrap();
                OutputKind::of(1 + canal * CANAL_OUTPUTS + in_canal)
            };
            let schneider = CurvatureNumber::Whole(CurvatureQuantity::Schneider);
            let radius = CurvatureNumber::Whole(CurvatureQuantity::SmallestRadius);
            assert_eq!(at(schneider), OutputKind::Angle);
            assert_eq!(at(radius), OutputKind::CurvePlace);
            let turn = CurvatureNumber::Curve(1, CurveQuantity::Turn);
            let start = CurvatureNumber::Curve(1, CurveQuantity::StartFromApex);
            assert_eq!(at(turn), OutputKind::Angle);
            assert_eq!(at(start), OutputKind::CurvePlace);
        }
    }

    #[test]
    fn a_length_that_does_not_exist_is_no_number() {
        let mut lengths = Lengths::default();
        lengths.set(LengthQuantity::Chord, Some(12.5));
        let mut out = [0.0; LengthQuantity::COUNT];
        lengths.write(&mut out);
        assert_eq!(out[LengthQuantity::Chord as usize], 12.5);
        assert!(out[LengthQuantity::Additive as usize].is_nan());
    }
}
