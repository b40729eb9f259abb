//! From detector units to true mm: objects of known size on the film, or what
//! is known about the exposure.

use kurbo::Point;

use crate::calibration::{self, DetectorFrame, FilmScale, MeasuredObject, circle_radius};
use crate::case::{Case, ScaleObject, ScaleObjectKind};
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
    /// What click noise adds to its size on the film, detector units.
    pub(super) lengthening: f64,
    pub(super) true_size: ScalarIndex,
    pub(super) depth: ScalarIndex,
}

impl ScaleBasis {
    /// The basis of the best rank among `objects`; `None` without objects.
    pub(super) fn of_objects<'a>(
        objects: impl Iterator<Item = (ScaleObjectKind, &'a MeasuredObject)> + Clone,
    ) -> Option<Self> {
        let best = objects.clone().map(|(kind, _)| rank(kind)).min()?;
        let weights: Vec<_> = objects
            .enumerate()
            .filter(|(_, (kind, _))| rank(*kind) == best)
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

/// Rank in the order of trust (docs/methods.md 3): a traced file, then ball and ruler.
fn rank(kind: ScaleObjectKind) -> u8 {
    match kind {
        ScaleObjectKind::File => 0,
        ScaleObjectKind::Ball | ScaleObjectKind::Ruler => 1,
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

/// Length of a traced object, or diameter of a ball, in the points' unit; a
/// curve is drawn in `memory`.
pub(super) fn apparent_size(
    kind: ScaleObjectKind,
    points: &[Point],
    memory: &mut Option<DrawnCurve>,
) -> Option<f64> {
    let size = match (kind, points) {
        (_, [a, b]) => a.distance(*b),
        (ScaleObjectKind::Ball, rim) => 2.0 * circle_radius(rim)?,
        (ScaleObjectKind::Ruler, _) => points.first()?.distance(*points.last()?),
        (ScaleObjectKind::File, _) => drawn(memory, points)?.length(),
    };
    (size > 0.0).then_some(size)
}

/// mm per detector unit by the first object of known size.
pub(super) fn object_mm_per_detector(case: &Case, frame: DetectorFrame) -> Option<f64> {
    case.scale.objects.iter().find_map(|object| {
        let points: Vec<_> = object
            .points_px
            .iter()
            .map(|&p| frame.detector_from_film(p))
            .collect();
        Some(true_size_mm(object)? / apparent_size(object.kind, &points, &mut None)?)
    })
}

/// The known length or diameter of an object.
pub(super) fn true_size_mm(object: &ScaleObject) -> Option<f64> {
    match object.kind {
        ScaleObjectKind::Ball => object.true_diameter_mm,
        ScaleObjectKind::File | ScaleObjectKind::Ruler => object.true_length_mm,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: a 3–4–5 triangle's hypotenuse, the circle x² + y² = 25, a
    /// file along a straight line.
    #[test]
    fn sizes_on_the_film() {
        let size = |kind, points: &[(f64, f64)]| {
            let points: Vec<_> = points.iter().map(|&(x, y)| Point::new(x, y)).collect();
            apparent_size(kind, &points, &mut None)
        };
        let ends = [(0.0, 0.0), (3.0, 4.0)];
        assert_eq!(size(ScaleObjectKind::Ruler, &ends), Some(5.0));
        let rim = [(5.0, 0.0), (-3.0, 4.0), (-3.0, -4.0), (0.0, 5.0)];
        let diameter = size(ScaleObjectKind::Ball, &rim).unwrap();
        assert!((diameter - 10.0).abs() < 1e-9);
        let file = size(ScaleObjectKind::File, &[(0.0, 0.0), (0.0, 3.0), (0.0, 9.0)]);
        assert!((file.unwrap() - 9.0).abs() < 1e-9);
        assert_eq!(
            size(ScaleObjectKind::Ruler, &[(1.0, 1.0), (1.0, 1.0)]),
            None
        );
    }

    /// A file outranks ruler and ball; two rulers share by 1/u².
    #[test]
    fn the_best_rank_carries_the_scale() {
        let known = |ratio, u_ratio| MeasuredObject { ratio, u_ratio };
        let (a, b) = (known(0.9, 0.01), known(0.9, 0.02));
        let weights = |kinds: [ScaleObjectKind; 2]| {
            let objects = kinds.into_iter().zip([&a, &b]);
            match ScaleBasis::of_objects(objects) {
                Some(ScaleBasis::Objects(weights)) => weights,
                other => panic!("{other:?}"),
            }
        };
        use ScaleObjectKind::{Ball, File, Ruler};
        assert_eq!(weights([Ball, File]), [(1, 1.0)]);
        let both = weights([Ruler, Ball]);
        assert!((both[0].1 - 0.8).abs() < 1e-12 && (both[1].1 - 0.2).abs() < 1e-12);
        assert!(ScaleBasis::of_objects([].into_iter()).is_none());
    }
}
