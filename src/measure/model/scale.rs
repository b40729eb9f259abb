//! From detector units to true mm: objects of known size on the film, or what
//! is known about the exposure.

use kurbo::Point;

use crate::calibration::{self, FilmScale, MeasuredObject};
use crate::case::ScaleObjectKind;
use crate::geometry::DrawnCurve;
use crate::measure::inputs::{Inputs, PlaceIndex, ScalarIndex};

/// What the scale of a case rests on.
#[derive(Clone, Debug)]
pub enum ScaleBasis {
    /// Objects of known size of one rank: index into
    /// [`super::Model::objects`] and weight (sum 1), frozen at the best
    /// estimates.
    Objects(Vec<(usize, f64)>),
    /// What is known about the film and its exposure.
    Film {
        /// Detector unit / true mm.
        divisor: f64,
        /// Factor about 1 that carries the uncertainty.
        factor: ScalarIndex,
    },
    /// Nothing: px only.
    None,
}

/// An object of known size as the model sees it.
#[derive(Clone, Debug)]
pub struct ObjectModel {
    /// What it is.
    pub kind: ScaleObjectKind,
    /// The canal a file stands in.
    pub canal: Option<String>,
    /// The scale it gives the tooth at the best estimates; its uncertainty is
    /// that of its known size, its clicks, its tilt and its depth.
    pub measured: MeasuredObject,
    /// The same without the depth: what a file says of its own canal.
    pub in_own_plane: MeasuredObject,
    pub(super) points: Vec<PlaceIndex>,
    /// What click noise adds to its size on the film on average, detector units.
    pub(super) lengthening: f64,
    /// What it adds to the size of the very points clicked.
    pub(super) lengthening_shown: f64,
    pub(super) true_size: ScalarIndex,
    pub(super) depth: ScalarIndex,
}

impl ScaleBasis {
    /// The basis of the best rank among `objects`, 0 being the best; `None`
    /// without objects.
    pub(super) fn of_objects<'a>(
        objects: impl Iterator<Item = (u8, &'a MeasuredObject)> + Clone,
    ) -> Option<Self> {
        let best = objects.clone().map(|(rank, _)| rank).min()?;
        let weights: Vec<_> = objects
            .enumerate()
            .filter(|(_, (rank, _))| *rank == best)
            .map(|(i, (_, &MeasuredObject { ratio, u_ratio }))| {
                // An object stated as certain still has a finite weight.
                let least = calibration::LEAST_RELATIVE_U * ratio;
                (i, u_ratio.max(least).powi(-2))
            })
            .collect();
        let sum: f64 = weights.iter().map(|(_, w)| w).sum();
        Some(Self::Objects(
            weights.into_iter().map(|(i, w)| (i, w / sum)).collect(),
        ))
    }

    /// The basis of the film's own scale; `factor` carries its uncertainty.
    pub(super) fn of_film(scale: &FilmScale, factor: ScalarIndex) -> Self {
        Self::Film {
            divisor: scale.divisor(),
            factor,
        }
    }

    /// True mm per detector unit; `None` without a scale. `size` gives each
    /// object's length in the film's plane in detector units; objects that are
    /// not `in_plane` may lie at another depth.
    pub(super) fn tooth_per_detector(
        &self,
        inputs: &Inputs,
        values: &[f64],
        objects: &[ObjectModel],
        size: impl Fn(usize) -> Option<f64>,
        in_plane: impl Fn(usize) -> bool,
    ) -> Option<f64> {
        let scalar = |index| inputs.scalar(values, index);
        match self {
            Self::Objects(weighted) => {
                let of_object = |&(index, weight): &(usize, f64)| {
                    let object = &objects[index];
                    let depth = if in_plane(index) {
                        1.0
                    } else {
                        scalar(object.depth)
                    };
                    Some(weight * depth * scalar(object.true_size) / size(index)?)
                };
                weighted.iter().map(of_object).sum()
            }
            Self::Film { divisor, factor } => Some(scalar(*factor) / divisor),
            Self::None => None,
        }
    }
}

/// The curve through `points`, in reused memory; `None` when there is none.
pub(super) fn drawn<'a>(
    memory: &'a mut Option<DrawnCurve>,
    points: &[Point],
) -> Option<&'a DrawnCurve> {
    match memory {
        Some(curve) => curve.refit(points).ok()?,
        None => *memory = Some(DrawnCurve::through(points).ok()?),
    }
    memory.as_ref()
}

/// Straight pieces from point to point, in reused memory; `None` when there
/// are none.
pub(super) fn straight_pieces<'a>(
    memory: &'a mut Option<DrawnCurve>,
    points: &[Point],
) -> Option<&'a DrawnCurve> {
    match memory {
        Some(curve) => curve.refit_straight(points).ok()?,
        None => *memory = Some(DrawnCurve::straight_pieces(points).ok()?),
    }
    memory.as_ref()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A better rank carries the scale alone; two of one rank share by 1/u².
    #[test]
    fn the_best_rank_carries_the_scale() {
        let known = |ratio, u_ratio| MeasuredObject { ratio, u_ratio };
        let (a, b) = (known(0.9, 0.01), known(0.9, 0.02));
        let weights = |ranks: [u8; 2]| {
            let objects = ranks.into_iter().zip([&a, &b]);
            match ScaleBasis::of_objects(objects) {
                Some(ScaleBasis::Objects(weights)) => weights,
                other => panic!("{other:?}"),
            }
        };
        assert_eq!(weights([1, 0]), [(1, 1.0)]);
        let both = weights([1, 1]);
        assert!((both[0].1 - 0.8).abs() < 1e-12 && (both[1].1 - 0.2).abs() < 1e-12);
        assert!(ScaleBasis::of_objects([].into_iter()).is_none());
    }
}
