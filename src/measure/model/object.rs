//! What measuring knows of each kind of object: how its size is read from its
//! points, and how well it is known. Names, keys and tools are in
//! [`crate::case::OBJECTS`].

use kurbo::Point;

use super::scale::drawn;
use crate::calibration::{DetectorFrame, circle_radius, u_diameter};
use crate::case::{Case, ScaleObjectKind};
use crate::geometry::DrawnCurve;
use crate::measure::inputs::{PlaceKind, ScalarKind};
use crate::measure::settings::InputUncertainty;

/// One kind of object as it is measured.
pub(super) struct MeasuredKind {
    kind: ScaleObjectKind,
    /// Order of trust (docs/methods.md 3), 0 first: objects of the best rank
    /// carry the scale.
    pub rank: u8,
    /// What its known size is among the inputs.
    pub size_kind: ScalarKind,
    /// Half width of its known size, mm.
    pub half_width_mm: fn(&InputUncertainty) -> f64,
    /// Standard uncertainty of its depth against a canal, mm.
    pub depth_mm: fn(&InputUncertainty) -> f64,
    /// How far it lies behind the tooth, towards the detector, mm: it shows so
    /// much smaller than in the tooth's plane.
    pub behind_mm: fn(&InputUncertainty) -> f64,
    /// Relative standard uncertainty by its tilt against the detector.
    pub u_tilt: fn(&InputUncertainty) -> f64,
    /// The kind of place of point `i` of `n`.
    pub place_kind: fn(usize, usize) -> PlaceKind,
    /// Its size on the film through more than two points, in their unit; a
    /// curve is drawn in the memory.
    size_of_many: fn(&[Point], &mut Option<DrawnCurve>) -> Option<f64>,
    /// Standard uncertainty of that size from the clicks alone.
    pub u_apparent: fn(&[Point], &dyn Fn(PlaceKind) -> f64) -> f64,
}

const KINDS: [MeasuredKind; 4] = [
    MeasuredKind {
        kind: ScaleObjectKind::File,
        rank: 0,
        // A file's known length is what its stop was set to.
        size_kind: ScalarKind::SetLength,
        half_width_mm: |u| u.reading_half_width_mm,
        depth_mm: |u| u.depth_to_other_canal_mm,
        behind_mm: |_| 0.0,
        // A file shares the tooth's tilt, a ruler or ball is taken to lie flat.
        u_tilt: InputUncertainty::u_of_tilt,
        place_kind: |i, n| match i {
            0 => PlaceKind::Reference,
            i if i + 1 == n => PlaceKind::Tip,
            _ => PlaceKind::ScaleObject,
        },
        size_of_many: |points, memory| Some(drawn(memory, points)?.length()),
        u_apparent: |_, click| click(PlaceKind::Reference).hypot(click(PlaceKind::Tip)),
    },
    MeasuredKind {
        kind: ScaleObjectKind::Ruler,
        rank: 1,
        size_kind: ScalarKind::KnownLength,
        half_width_mm: |u| u.ruler_half_width_mm,
        depth_mm: |u| u.depth_to_object_mm,
        behind_mm: |_| 0.0,
        u_tilt: |_| 0.0,
        place_kind: |_, _| PlaceKind::ScaleObject,
        size_of_many: |points, _| Some(points.first()?.distance(*points.last()?)),
        u_apparent: |_, click| two_ends(click),
    },
    MeasuredKind {
        kind: ScaleObjectKind::Ball,
        rank: 1,
        size_kind: ScalarKind::KnownLength,
        half_width_mm: |u| u.ball_half_width_mm,
        depth_mm: |u| u.depth_to_object_mm,
        behind_mm: |_| 0.0,
        u_tilt: |_| 0.0,
        place_kind: |_, _| PlaceKind::ScaleObject,
        size_of_many: |rim, _| Some(2.0 * circle_radius(rim)?),
        u_apparent: |points, click| match points {
            [_, _] => two_ends(click),
            rim => u_diameter(rim, click(PlaceKind::ScaleObject)).unwrap_or(f64::INFINITY),
        },
    },
    MeasuredKind {
        kind: ScaleObjectKind::Plate,
        rank: 2,
        size_kind: ScalarKind::KnownLength,
        // Cut edges and rounded corners.
        half_width_mm: |u| u.nominal_half_width_mm,
        depth_mm: |u| u.tooth_to_detector_sd_mm,
        behind_mm: |u| u.tooth_to_detector_mm,
        u_tilt: |_| 0.0,
        place_kind: |_, _| PlaceKind::ScaleObject,
        size_of_many: |points, _| Some(points.first()?.distance(*points.last()?)),
        u_apparent: |_, click| two_ends(click),
    },
];

/// A distance between two clicks of one kind.
fn two_ends(click: &dyn Fn(PlaceKind) -> f64) -> f64 {
    std::f64::consts::SQRT_2 * click(PlaceKind::ScaleObject)
}

impl MeasuredKind {
    /// The row of that kind.
    pub fn of(kind: ScaleObjectKind) -> &'static Self {
        const ROWS: &[MeasuredKind] = &KINDS;
        ROWS.iter()
            .find(|row| row.kind == kind)
            .expect("a test holds that every kind is measured")
    }

    /// Its size on the film, in the points' unit; a curve is drawn in `memory`.
    pub fn apparent_size(&self, points: &[Point], memory: &mut Option<DrawnCurve>) -> Option<f64> {
        let size = match points {
            [a, b] => a.distance(*b),
            _ => (self.size_of_many)(points, memory)?,
        };
        (size > 0.0).then_some(size)
    }
}

/// mm per detector unit by the first object of known size.
pub(super) fn object_mm_per_detector(case: &Case, frame: DetectorFrame) -> Option<f64> {
    case.scale.objects.iter().find_map(|object| {
        let points: Vec<_> = object
            .points_px
            .iter()
            .map(|&p| frame.detector_from_film(p))
            .collect();
        let apparent = MeasuredKind::of(object.kind).apparent_size(&points, &mut None)?;
        Some(object.known_size_mm()? / apparent)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::OBJECTS;

    #[test]
    fn every_kind_of_object_is_measured() {
        for row in &OBJECTS {
            assert_eq!(MeasuredKind::of(row.kind).kind, row.kind);
        }
        let rank = |kind| MeasuredKind::of(kind).rank;
        assert!(rank(ScaleObjectKind::File) < rank(ScaleObjectKind::Ruler));
        assert_eq!(rank(ScaleObjectKind::Ball), rank(ScaleObjectKind::Ruler));
    }

    /// Closed forms: a 3–4–5 triangle's hypotenuse, the circle x² + y² = 25, a
    /// file along a straight line.
    #[test]
    fn sizes_on_the_film() {
        let size = |kind, points: &[(f64, f64)]| {
            let points: Vec<_> = points.iter().map(|&(x, y)| Point::new(x, y)).collect();
            MeasuredKind::of(kind).apparent_size(&points, &mut None)
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
}
