//! The uncertain inputs of a case as one flat vector.
//!
//! Every clicked place enters once, however many roles it plays (JCGM 101
//! 6.4.8: a shared input is drawn once): a file tip that is also the last
//! point of the file's trace is one click, recognised by its identical
//! coordinates. Clicks come first, x then y in px; scalars follow.

use std::collections::HashMap;

use serde::Serialize;

pub use crate::case::PlaceKind;
use crate::uncertainty::inputs::Shape;
use crate::units::FilmPoint;

/// Index of a clicked place; its x is input `2·i`, its y input `2·i + 1`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlaceIndex(usize);

/// Index of a scalar among the inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ScalarIndex(usize);

/// A clicked place with its roles merged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClickedPlace {
    /// Where it was clicked, px.
    pub place_px: FilmPoint,
    /// Its weightiest role.
    pub kind: PlaceKind,
    /// Placed by the assistant in every role and not moved since.
    pub assisted: bool,
    /// By how much its trace scatters more than stated; 1 where it does not.
    pub excess: f64,
}

/// What a scalar input is; its line in the budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ScalarKind {
    /// Known length or diameter of a ruler or ball.
    KnownLength,
    /// Set length of a file, also where it is traced for the scale.
    SetLength,
    /// Pixel pitch and magnification in force, as a factor about 1.
    FilmScale,
    /// Magnification of the canal's plane over that of a scale object beside
    /// it, a factor about 1.
    Depth,
    /// Angle between the root and the detector, rad.
    Tilt,
    /// Turn of a bend's plane out of the film's plane, rad.
    BendPlane,
    /// Offset of the root's end from the canal's end along x, y or the depth,
    /// detector units, where a trace ends on the apex.
    ApexAside,
    /// Which of the forms that fit a trace almost equally well is the canal's:
    /// 0 the best one, ±1 and between: each as often as it is likely.
    CurveForm,
    /// Error of the film's readings of a followed canal across it, over one
    /// stretch, detector units.
    FilmReading,
}

/// A scalar input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scalar {
    /// What it is.
    pub kind: ScalarKind,
    /// Best estimate.
    pub value: f64,
    /// Its distribution.
    pub spread: Shape,
}

/// All inputs of a case.
#[derive(Clone, Debug, Default)]
pub struct Inputs {
    clicks: Vec<ClickedPlace>,
    scalars: Vec<Scalar>,
}

/// Collects [`Inputs`], merging clicks at identical coordinates.
#[derive(Debug, Default)]
pub struct InputsBuilder {
    inputs: Inputs,
    seen: HashMap<(u64, u64), PlaceIndex>,
}

impl InputsBuilder {
    /// Adds a clicked place, or finds the one already at the very same place.
    pub fn click(&mut self, place_px: FilmPoint, kind: PlaceKind, assisted: bool) -> PlaceIndex {
        let key = (place_px.x.to_bits(), place_px.y.to_bits());
        let index = *self.seen.entry(key).or_insert_with(|| {
            self.inputs.clicks.push(ClickedPlace {
                place_px,
                kind,
                assisted,
                excess: 1.0,
            });
            PlaceIndex(self.inputs.clicks.len() - 1)
        });
        let merged = &mut self.inputs.clicks[index.0];
        merged.kind = merged.kind.min(kind);
        merged.assisted &= assisted;
        index
    }

    /// Adds a scalar; its index is final once all clicks are in, see
    /// [`Inputs::scalar`].
    pub fn scalar(&mut self, scalar: Scalar) -> ScalarIndex {
        self.inputs.scalars.push(scalar);
        ScalarIndex(self.inputs.scalars.len() - 1)
    }

    /// The collected inputs.
    pub fn build(self) -> Inputs {
        self.inputs
    }
}

impl Inputs {
    /// Number of values in the flat vector.
    pub fn len(&self) -> usize {
        2 * self.clicks.len() + self.scalars.len()
    }

    /// No inputs at all.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The clicked places in vector order.
    pub fn clicks(&self) -> &[ClickedPlace] {
        &self.clicks
    }

    /// The clicked place of that index.
    pub fn click(&self, index: PlaceIndex) -> ClickedPlace {
        self.clicks[index.0]
    }

    /// Takes a click as less certain than stated, by this factor.
    pub fn widen(&mut self, index: PlaceIndex, excess: f64) {
        let clicked = &mut self.clicks[index.0];
        clicked.excess = clicked.excess.max(excess);
    }

    /// Takes a normal scalar as less certain than stated, by this factor.
    pub fn widen_scalar(&mut self, index: ScalarIndex, excess: f64) {
        if let Shape::Normal { sd } = &mut self.scalars[index.0].spread {
            *sd *= excess;
        }
    }

    /// Standard uncertainty of a scalar input.
    pub fn u_of_scalar(&self, index: ScalarIndex) -> f64 {
        self.scalars[index.0].spread.standard_uncertainty()
    }

    /// The scalars in vector order.
    pub fn scalars(&self) -> &[Scalar] {
        &self.scalars
    }

    /// Best estimates, flat.
    pub fn nominal(&self) -> Vec<f64> {
        let places = self
            .clicks
            .iter()
            .flat_map(|click| [click.place_px.x, click.place_px.y]);
        places.chain(self.scalars.iter().map(|s| s.value)).collect()
    }

    /// Where a clicked place is in a flat vector of this shape.
    pub fn place(&self, values: &[f64], index: PlaceIndex) -> FilmPoint {
        FilmPoint::new(values[2 * index.0], values[2 * index.0 + 1])
    }

    /// The value of a scalar in a flat vector of this shape.
    pub fn scalar(&self, values: &[f64], index: ScalarIndex) -> f64 {
        values[2 * self.clicks.len() + index.0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_in_two_roles_is_one_input_with_the_weightier_kind() {
        let mut builder = InputsBuilder::default();
        let tip = FilmPoint::new(530.0, 900.1);
        let from_object = builder.click(tip, PlaceKind::ScaleObject, true);
        let elsewhere = builder.click(FilmPoint::new(1.0, 2.0), PlaceKind::Canal, true);
        let from_canal = builder.click(tip, PlaceKind::Tip, false);
        let length = builder.scalar(Scalar {
            kind: ScalarKind::KnownLength,
            value: 20.0,
            spread: Shape::Rectangular { half_width: 0.25 },
        });
        assert_eq!(from_object, from_canal);
        assert_ne!(from_object, elsewhere);
        let inputs = builder.build();
        assert_eq!(inputs.nominal(), [530.0, 900.1, 1.0, 2.0, 20.0]);
        assert_eq!(inputs.clicks()[0].kind, PlaceKind::Tip);
        assert_eq!(
            inputs
                .clicks()
                .iter()
                .map(|click| click.assisted)
                .collect::<Vec<_>>(),
            [false, true]
        );
        assert_eq!(inputs.scalar(&inputs.nominal(), length), 20.0);
        assert_eq!(inputs.place(&inputs.nominal(), from_canal), tip);
    }

    /// JCGM 100 4.3.7 (SEEN): a/√3; the reading of 0.5 mm
    /// gives 0.2887.
    #[test]
    fn rectangular_spread() {
        let u = Shape::Rectangular { half_width: 0.5 }.standard_uncertainty();
        assert!((u - 0.288_675_134_6).abs() < 1e-9);
    }
}
