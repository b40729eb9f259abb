//! One canal at one draw: path → stations → scale → quantities.

use std::borrow::Cow;

use kurbo::{Point, Vec2};

use super::outputs::Lengths;
use super::readings::BendPoint;
use super::route::{Coronal, MeasuredRoute, Way, beyond_canal};
use super::scale::{drawn, straight_pieces};
use super::{Draw, Scratch};
use crate::calibration;
use crate::case::ScaleObjectKind;
use crate::curvature::CurvatureLandmark;
use crate::geometry::{DrawnCurve, FitError, MAX_ARCS, SHAPE_MODES, StraightArcPath};
use crate::measure::bends::{self, BendModel};
use crate::measure::catalogue::LengthQuantity;
use crate::measure::depth::{DepthProfile, InSpace, Start};
use crate::measure::inputs::{PlaceIndex, ScalarIndex};
use crate::measure::path::ProlongedCurve;
use crate::working_length;

/// A canal as the model sees it.
#[derive(Clone, Debug)]
pub struct CanalModel {
    /// The canal's name.
    pub name: String,
    /// Allowance in force, mm.
    pub allowance_mm: f64,
    /// The path runs along the canal's own trace; else in straight pieces
    /// along the clicks on its file, for tip to apex and working length alone.
    pub has_trace: bool,
    /// Index of the canal's own file among [`super::Model::objects`].
    pub own_file: Option<usize>,
    pub(super) path: Vec<PlaceIndex>,
    /// What bends are fitted to where the canal was followed; else none, and
    /// they are fitted to `path`.
    pub(super) bend_points: Vec<BendPoint>,
    pub(super) reference: Option<PlaceIndex>,
    /// The reference lies along the path, apical to its start.
    pub(super) reference_on_path: bool,
    /// So does the stop of the canal's own file.
    pub(super) stop_on_path: bool,
    pub(super) tip: Option<PlaceIndex>,
    pub(super) apex: Option<PlaceIndex>,
    pub(super) set_length: Option<ScalarIndex>,
    pub(super) form: ScalarIndex,
    pub(super) shape: [ScalarIndex; SHAPE_MODES],
    pub(super) planes: [ScalarIndex; MAX_ARCS],
    /// Offset of the root's end from the canal's: x, y, depth.
    pub(super) lateral_offset: Option<[ScalarIndex; 3]>,
    pub(super) assisted: bool,
    /// What click noise adds to its drawn curve on average, detector units.
    pub(super) lengthening: f64,
    /// What it adds to the curve through the very points clicked.
    pub(super) lengthening_shown: f64,
    pub(super) moved: Vec<(CurvatureLandmark, PlaceIndex)>,
    pub(super) bends: Result<BendModel, FitError>,
}

/// A canal's fitted path at one set of input values.
#[derive(Clone, Debug)]
pub struct CanalShape {
    /// Detector frame.
    pub path: StraightArcPath,
    /// True mm per detector unit for this canal; `None` without a scale.
    pub tooth_per_detector: Option<f64>,
    /// Where the apex stands along the path, detector units from its start.
    pub apex_at: f64,
    /// Length of the path in space over that on the film.
    pub stretch: f64,
}

impl CanalShape {
    /// Path and place of the apex along it in mm of the tooth; `None` without
    /// a scale.
    pub fn in_mm(&self) -> Option<(StraightArcPath, f64)> {
        let factor = self.tooth_per_detector?;
        Some((self.path.scaled(factor)?, self.apex_at * factor))
    }
}

/// The path of a canal at one draw.
struct LaidPath<'a> {
    /// The curve through its points; lengths run along it.
    curve: Option<&'a DrawnCurve>,
    /// The straight–arc path; angles are read from it.
    fitted: Option<Cow<'a, StraightArcPath>>,
    /// What click noise adds to the curve, detector units.
    noise: f64,
    /// Offset of the root's end from the canal's: x, y, depth.
    lateral_offset: Option<[f64; 3]>,
}

/// Where tip and apex stand along the route on the film.
struct Stations {
    tip: Option<f64>,
    apex: Option<f64>,
}

/// Places that are marked, detector frame.
struct Places {
    reference: Option<Point>,
    tip: Option<Point>,
    apex: Option<Point>,
}

impl CanalModel {
    /// What its angles are read from: `film`, `film_and_trace` or `trace`.
    pub fn angles_from(&self) -> &'static str {
        let is_click = |point: &BendPoint| matches!(point, BendPoint::Click(_));
        match self.bend_points.as_slice() {
            [] => "trace",
            [_, inner @ .., _] if inner.iter().any(is_click) => "film_and_trace",
            _ => "film",
        }
    }

    /// Every output of the canal, NaN where there is none, and its shape where
    /// a path could be fitted.
    pub(super) fn evaluate(
        &self,
        draw: &Draw<'_>,
        scratch: &mut Scratch,
        out: &mut [f64],
    ) -> Option<CanalShape> {
        let Scratch {
            points,
            bend_points,
            curve,
            object_sizes,
            moved,
            ..
        } = scratch;
        let places = Places {
            reference: self.reference.map(|l| draw.place(l)),
            tip: self.tip.map(|l| draw.place(l)),
            apex: self.apex.map(|l| draw.place(l)),
        };
        let laid = self.lay_path(draw, points, bend_points, curve);
        let route = self.route(draw, &laid, places.reference);
        let stations = self.stations(&places, route.as_ref());

        let size = |index: usize| {
            let stretch = self.file_stretch(draw, index, route.as_ref(), &stations);
            Some(object_sizes[index]? * stretch)
        };
        let is_own = |index| self.own_file == Some(index);
        let tooth_per_detector = draw.tooth_per_detector(size, is_own);

        let (of_lengths, of_bends) = out.split_at_mut(LengthQuantity::COUNT);
        if let (Ok(bends), Some(path)) = (&self.bends, laid.fitted.as_deref()) {
            draw.gather_moved(self, moved);
            let per_detector = tooth_per_detector.unwrap_or(f64::NAN);
            if draw.is_possible {
                bends.outputs(path, per_detector, moved, of_bends);
            } else {
                bends.best_outputs(per_detector, moved, of_bends);
            }
        }
        if let Some(tooth_per_detector) = tooth_per_detector {
            let own_file = self.own_file.map(|file| match route.as_ref() {
                // Both lengths of the proportion run along one line.
                Some(route) if !self.has_trace => {
                    let along = route.in_space(route.length).length;
                    (file, Some(along * route.without_noise))
                }
                _ => (file, size(file)),
            });
            self.lengths(
                draw,
                &places,
                route.as_ref(),
                &stations,
                own_file,
                tooth_per_detector,
            )
            .write(of_lengths);
        }
        laid.fitted.map(|path| CanalShape {
            apex_at: match (laid.lateral_offset, places.apex) {
                (None, Some(apex)) => path.project(apex).length_at,
                _ => path.length(),
            },
            tooth_per_detector,
            stretch: route.as_ref().map_or(1.0, |route| {
                route.in_space(route.length).length / route.length
            }),
            path: path.into_owned(),
        })
    }

    /// Step 1, the path: the curve through the points and the path fitted to
    /// them.
    fn lay_path<'a>(
        &'a self,
        draw: &Draw<'_>,
        points: &mut Vec<Point>,
        bend_points: &mut Vec<Point>,
        memory: &'a mut Option<DrawnCurve>,
    ) -> LaidPath<'a> {
        let bends = self.bends.as_ref().ok();
        let form = draw.scalar(self.form);
        let shape = self.shape.map(|mode| draw.scalar(mode));
        draw.gather(&self.path, points);
        draw.gather_bend_points(&self.bend_points, bend_points);
        let is_followed = !self.bend_points.is_empty();
        let fit_points = if is_followed {
            &mut *bend_points
        } else {
            &mut *points
        };
        let projected = bends.is_some_and(|bends| bends.project_onto_path(form, fit_points));
        // Points projected onto their path carry the noise drawn, as those of a
        // followed line do; others that of the clicks made as well.
        let projected = projected || is_followed;
        let noise = match (draw.is_possible, projected) {
            (false, _) => self.lengthening_shown,
            (true, true) => self.lengthening,
            (true, false) => 2.0 * self.lengthening,
        };
        let curve = if self.has_trace {
            drawn(memory, points)
        } else {
            straight_pieces(memory, points)
        };
        // The canal's end, where angles are read, is not quite the apex.
        let lateral_offset = self
            .lateral_offset
            .map(|offset| offset.map(|i| draw.scalar(i)));
        let fit_points = if is_followed { bend_points } else { points };
        if let (Some(last), Some([x, y, _])) = (fit_points.last_mut(), lateral_offset) {
            *last += Vec2::new(x, y);
        }
        LaidPath {
            curve,
            fitted: bends.and_then(|bends| bends.refit(form, fit_points, &shape)),
            noise,
            lateral_offset,
        }
    }

    /// Step 1, continued: the path with what the film hides of it.
    fn route<'a>(
        &self,
        draw: &Draw<'_>,
        laid: &LaidPath<'a>,
        reference: Option<Point>,
    ) -> Option<MeasuredRoute<'a>> {
        let model = draw.model;
        let curve = laid.curve?;
        let path = ProlongedCurve::new(curve, laid.fitted.as_deref().map(bends::end_direction));
        let length = curve.length();
        let tilt_rad = draw.scalar(model.tilt);
        // The film's scale holds at the tooth's middle, half way from the
        // reference to the path's end.
        let coronal = reference.map_or(0.0, |reference| {
            if self.reference_on_path {
                -path.station(reference).length_at
            } else {
                reference.distance(path.start())
            }
        });
        let before_middle = 0.5 * (coronal + length) - coronal;
        let start_depth = -before_middle * tilt_rad.tan();
        let depth = DepthProfile::new(
            self.bends.as_ref().ok().map(BendModel::path),
            Start {
                tilt_rad,
                depth: start_depth / length,
            },
            &self.planes.map(|plane| draw.scalar(plane)),
            length * model.source_per_detector,
        );
        Some(MeasuredRoute {
            without_noise: 1.0 - laid.noise / length,
            beyond_canal: laid.lateral_offset.map_or(0.0, |offset| {
                beyond_canal(offset, path.end_direction(), model.clicks.foramen_to_apex())
            }),
            coronal: Coronal {
                tilt_rad,
                start_depth: (depth.at(0.0) * length).depth,
                source_per_detector: model.source_per_detector,
            },
            path,
            depth,
            length,
        })
    }

    /// Step 2: where tip and apex stand along the route.
    fn stations(&self, places: &Places, route: Option<&MeasuredRoute<'_>>) -> Stations {
        let station = |place: Point| route.map(|route| route.station(place).length_at);
        Stations {
            tip: places.tip.and_then(station),
            apex: match self.lateral_offset {
                // The trace ends on it.
                Some(_) => route.map(|route| route.length),
                None => places.apex.and_then(station),
            },
        }
    }

    /// Step 3, the scale: length in space over length on the film of an object.
    /// A canal's own file tilts and bends with it, another file of the tooth
    /// tilts with it; ball, ruler and film know of neither.
    fn file_stretch(
        &self,
        draw: &Draw<'_>,
        index: usize,
        route: Option<&MeasuredRoute<'_>>,
        stations: &Stations,
    ) -> f64 {
        let object = &draw.model.objects[index];
        match route {
            Some(route) if self.own_file == Some(index) => {
                let stop = object.points[0];
                let last = object.points[object.points.len() - 1];
                let file_tip = match stations.tip {
                    Some(station) if self.tip == Some(last) => station,
                    _ => route.station(draw.place(last)).length_at,
                };
                let coronal = if self.has_trace {
                    route.to_start(draw.place(stop), self.stop_on_path)
                } else {
                    Way::default()
                };
                (coronal.in_space + route.in_space(file_tip).length) / (coronal.on_film + file_tip)
            }
            _ if object.kind == ScaleObjectKind::File => draw.scalar(draw.model.tilt).cos().recip(),
            _ => 1.0,
        }
    }

    /// Step 4, the quantities. `own_file` is the index of the canal's own file
    /// with its size in space, detector units.
    fn lengths(
        &self,
        draw: &Draw<'_>,
        places: &Places,
        route: Option<&MeasuredRoute<'_>>,
        stations: &Stations,
        own_file: Option<(usize, Option<f64>)>,
        tooth_per_detector: f64,
    ) -> Lengths {
        let mut lengths = Lengths::default();
        let in_mm = |length: f64| Some(length * tooth_per_detector);
        if let (Some(route), true) = (route, self.has_trace) {
            let end = route.in_space(route.length);
            let depth = end.depth - route.coronal.start_depth;
            let length = end.length * route.without_noise;
            lengths.set(
                LengthQuantity::CurvedLength,
                in_mm(length + route.beyond_canal),
            );
            lengths.set(
                LengthQuantity::Chord,
                in_mm(route.path.chord().hypot(depth)),
            );
        }

        let from_start = |station: Option<f64>| {
            let route = route?;
            let mut found = route.in_space(station?);
            found.length *= route.without_noise;
            Some(found)
        };
        let tip = from_start(stations.tip);
        let apex = from_start(stations.apex)
            .zip(route)
            .map(|(mut apex, route)| {
                apex.length += route.beyond_canal;
                apex
            });

        let tilt_rad = draw.scalar(draw.model.tilt);
        let tip_to_apex = tip_to_apex(places, tip, apex, tilt_rad);
        if let Some(found) = &tip_to_apex {
            lengths.set(LengthQuantity::TipToApex, in_mm(found.along));
            lengths.set(LengthQuantity::TipToApexStraight, in_mm(found.straight));
        }

        // The way beyond the reference: from where the path is entered.
        let reference_to_apex =
            places
                .reference
                .zip(route)
                .zip(apex)
                .map(|((reference, route), apex)| {
                    route.to_start(reference, self.reference_on_path).in_space + apex.length
                });
        let reference_to_apex_mm = reference_to_apex.and_then(in_mm);
        lengths.set(LengthQuantity::ReferenceToApex, reference_to_apex_mm);

        let additive = self.set_length.zip(tip_to_apex).map(|(set_length, found)| {
            let tip_to_apex_mm = found.along * tooth_per_detector;
            working_length::additive_mm(draw.scalar(set_length), tip_to_apex_mm, self.allowance_mm)
        });
        lengths.set(LengthQuantity::Additive, additive);

        let tooth_mm = match own_file {
            Some((file, size)) => reference_to_apex.zip(size).map(|(on_film, size)| {
                let true_size = draw.scalar(draw.model.objects[file].true_size);
                calibration::grossman_mm(true_size, on_film, size)
            }),
            None => reference_to_apex_mm,
        };
        let proportion = tooth_mm.map(|tooth_mm| tooth_mm - self.allowance_mm);
        lengths.set(LengthQuantity::Proportion, proportion);
        lengths
    }
}

/// File tip → apex in detector units, positive where the tip is short.
#[derive(Clone, Copy, Debug, PartialEq)]
struct TipToApex {
    along: f64,
    straight: f64,
}

/// `tip` and `apex` are where they stand along the route in space; without
/// them the reference point must tell the side of the apex.
fn tip_to_apex(
    places: &Places,
    tip: Option<InSpace>,
    apex: Option<InSpace>,
    tilt_rad: f64,
) -> Option<TipToApex> {
    let straight = places.tip?.distance(places.apex?);
    let (along, depth) = match (tip, apex) {
        (Some(tip), Some(apex)) => (apex.length - tip.length, apex.depth - tip.depth),
        _ => {
            let side = straight_side(places.reference?, places.tip?, places.apex?);
            (
                side * straight * tilt_rad.cos().recip(),
                straight * tilt_rad.tan(),
            )
        }
    };
    Some(TipToApex {
        along,
        straight: straight.hypot(depth).copysign(along),
    })
}

/// +1 when the apex lies farther from the reference than the tip (short), −1
/// when nearer (beyond): all that can be said without a path.
fn straight_side(reference: Point, tip: Point, apex: Point) -> f64 {
    if (apex - tip).dot(tip - reference) < 0.0 {
        -1.0
    } else {
        1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marked(reference: Option<Point>) -> Places {
        Places {
            reference,
            tip: Some(Point::new(0.0, 20.0)),
            apex: Some(Point::new(0.0, 21.5)),
        }
    }

    /// Without a path the reference point tells the side, and nothing is told
    /// without either. Closed form: straight, tilted by 60°.
    #[test]
    fn without_a_path_the_reference_tells_the_side() {
        let above = Some(Point::new(0.0, 0.0));
        let found = tip_to_apex(&marked(above), None, None, 0.0).unwrap();
        assert_eq!((found.along, found.straight), (1.5, 1.5));
        let below = Some(Point::new(0.0, 40.0));
        let found = tip_to_apex(&marked(below), None, None, 60f64.to_radians()).unwrap();
        assert!((found.along + 3.0).abs() < 1e-9 && (found.straight + 3.0).abs() < 1e-9);
        assert_eq!(tip_to_apex(&marked(None), None, None, 0.0), None);
    }

    /// Along a path the difference of the stations counts, depth included.
    #[test]
    fn along_a_path_the_stations_count() {
        let at = |length, depth| Some(InSpace { length, depth });
        let found = tip_to_apex(&marked(None), at(14.0, 1.0), at(12.0, 3.0), 0.0).unwrap();
        assert_eq!(found.along, -2.0);
        assert_eq!(found.straight, -2.5);
    }
}
