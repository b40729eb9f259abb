//! The measurement model of a case (JCGM 101 3.2): one function from the
//! flat input vector to every number of every canal.
//!
//! Whatever does not depend on the draw is settled when the model is built:
//! which objects set the scale and their weights, the structure of each
//! fitted path. Evaluating it is then cheap enough for ten thousand draws.

use std::borrow::Cow;

use kurbo::{Point, Vec2};

use super::bends::{self, BendModel};
use super::budget::InputGroup;
use super::catalogue::{CANAL_OUTPUTS, LengthQuantity};
use super::click_noise::ClickNoise;
use super::depth::{DepthProfile, InSpace, Start};
use super::inputs::{
    self, Inputs, InputsBuilder, LandmarkIndex, LandmarkKind, Scalar, ScalarIndex, ScalarKind,
};
use super::lengthening::lengthening;
use super::path::{CanalPath, Station};
use super::settings::{InputUncertainty, Settings};
use crate::calibration::{
    self, DetectorFrame, FilmScale, KnownObject, MeasuredObject, circle_radius,
};
use crate::case::{Canal, Case, ScaleObject, ScaleObjectKind};
use crate::curvature::{Construction, Curvature, CurvatureNumber, Landmark};
use crate::geometry::{DrawnCurve, FitError, GeometryError, MAX_ARCS, StraightArcPath};
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet, Shape};
use crate::working_length;

/// What an output of a [`Model`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputKind {
    /// The scale, or a [`LengthQuantity`].
    Length,
    /// An angle or a turn.
    Angle,
    /// Radius, length or place of a curve.
    CurvePlace,
}

/// What the scale of a case rests on.
#[derive(Clone, Debug)]
pub enum ScaleBasis {
    /// Objects of known size of one rank: index into [`Model::objects`] and
    /// weight (sum 1), frozen at the best estimates.
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
    /// The scale it gives at the best estimates.
    pub measured: MeasuredObject,
    points: Vec<LandmarkIndex>,
    /// What click noise adds to its size on the film, detector units.
    lengthening: f64,
    true_size: ScalarIndex,
    depth: ScalarIndex,
}

/// A canal as the model sees it.
#[derive(Clone, Debug)]
pub struct CanalModel {
    /// The canal's name.
    pub name: String,
    /// Allowance in force, mm.
    pub allowance_mm: f64,
    /// The path runs along the canal's own trace (else along its file).
    pub has_trace: bool,
    /// Index of the canal's own file among [`Model::objects`].
    pub own_file: Option<usize>,
    path: Vec<LandmarkIndex>,
    reference: Option<LandmarkIndex>,
    /// The reference lies along the path, apical to its start.
    reference_on_path: bool,
    /// So does the stop of the canal's own file.
    stop_on_path: bool,
    tip: Option<LandmarkIndex>,
    apex: Option<LandmarkIndex>,
    set_length: Option<ScalarIndex>,
    form: ScalarIndex,
    planes: [ScalarIndex; MAX_ARCS],
    /// Offset of the root's end from the canal's: x, y, depth.
    aside: Option<[ScalarIndex; 3]>,
    assisted: bool,
    /// What click noise adds to its drawn curve, detector units.
    lengthening: f64,
    moved: Vec<(Landmark, LandmarkIndex)>,
    bends: Result<BendModel, FitError>,
}

/// The measurement model of a case.
#[derive(Clone, Debug)]
pub struct Model {
    /// Its inputs.
    pub inputs: Inputs,
    /// Film → detector.
    pub frame: DetectorFrame,
    /// What the scale rests on.
    pub basis: ScaleBasis,
    /// All objects of known size.
    pub objects: Vec<ObjectModel>,
    /// The canals.
    pub canals: Vec<CanalModel>,
    clicks: ClickNoise,
    lean: ScalarIndex,
    /// Detector units times this are shares of the distance from the source.
    source_per_detector: f64,
    nominal: Vec<f64>,
}

/// A canal's fitted path at one set of input values.
#[derive(Clone, Debug)]
pub struct CanalShape<'a> {
    /// Detector frame.
    pub path: Cow<'a, StraightArcPath>,
    /// True mm per detector unit for this canal; NaN without a scale.
    pub tooth_per_detector: f64,
    /// Where the apex stands along the path, detector units from its start.
    pub apex_at: f64,
}

impl CanalShape<'_> {
    /// Path and place of the apex along it in mm of the tooth; `None` without
    /// a scale.
    pub fn in_mm(&self) -> Option<(StraightArcPath, f64)> {
        let factor = Some(self.tooth_per_detector).filter(|factor| factor.is_finite())?;
        Some((self.path.scaled(factor)?, self.apex_at * factor))
    }
}

/// Memory reused from draw to draw.
#[derive(Debug, Default)]
pub struct Scratch {
    points: Vec<Point>,
    curve: Option<DrawnCurve>,
    object_curve: Option<DrawnCurve>,
    object_sizes: Vec<f64>,
    moved: Vec<(Landmark, Point)>,
}

impl Model {
    /// The model of a case that has passed [`super::check::check`], on a film
    /// whose own scale is `film_scale`.
    pub fn new(case: &Case, film_scale: Option<&FilmScale>, settings: &Settings) -> Self {
        let frame = film_scale.map_or_else(DetectorFrame::without_pitch, |scale| {
            DetectorFrame::with_pitch(scale.pitch_mm)
        });
        let uncertainty = &settings.uncertainty.stated_in(case);
        let clicks = ClickNoise::new(case, frame, object_mm_per_px(case, frame), uncertainty);
        let mut inputs = InputsBuilder::default();
        let lean = inputs.scalar(Scalar {
            kind: ScalarKind::Lean,
            value: 0.0,
            spread: Shape::Rectangular {
                half_width: uncertainty.lean_half_width_rad,
            },
        });
        let source_distance_mm = case
            .film
            .source_to_tooth_mm
            .or(case.film.source_to_detector_mm)
            .unwrap_or(uncertainty.source_distance_mm);
        let mut builder = Builder {
            frame,
            uncertainty,
            clicks,
            source_distance_mm,
            inputs,
        };
        let objects: Vec<_> = case
            .scale
            .objects
            .iter()
            .filter_map(|object| builder.object(object))
            .collect();
        let canals: Vec<_> = case
            .canals
            .iter()
            .map(|canal| builder.canal(canal, case, &objects, settings))
            .collect();
        let basis = builder.basis(&objects, film_scale);
        let inputs = builder.inputs.build();
        let nominal = inputs.nominal();

        let mut model = Self {
            inputs,
            frame,
            basis,
            objects,
            canals,
            clicks,
            lean,
            source_per_detector: 0.0,
            nominal,
        };
        let mm = model.nominal_tooth_per_detector();
        if mm.is_finite() {
            model.source_per_detector = mm / source_distance_mm;
        }
        model.fit_bends(settings);
        model.find_lengthenings();
        model.find_places_on_paths();
        model
    }

    /// The best estimates, flat.
    pub fn nominal(&self) -> &[f64] {
        &self.nominal
    }

    /// Number of outputs: true mm per detector unit, then each canal's.
    pub fn output_count(&self) -> usize {
        1 + self.canals.len() * CANAL_OUTPUTS
    }

    /// Where the outputs of a canal start.
    pub fn canal_offset(canal: usize) -> usize {
        1 + canal * CANAL_OUTPUTS
    }

    /// What an output is, by its index; counted as in [`Model::output_count`].
    pub fn output_kind(output: usize) -> OutputKind {
        let Some(after_scale) = output.checked_sub(1) else {
            return OutputKind::Length;
        };
        let in_canal = after_scale % CANAL_OUTPUTS;
        let Some(number) = in_canal.checked_sub(LengthQuantity::COUNT) else {
            return OutputKind::Length;
        };
        if CurvatureNumber::is_angle(number) {
            OutputKind::Angle
        } else {
            OutputKind::CurvePlace
        }
    }

    /// Every output at the best estimates; NaN where an output cannot be had.
    /// `out` holds [`Model::output_count`] values.
    pub fn evaluate_best(&self, scratch: &mut Scratch, out: &mut [f64]) {
        self.evaluate(&self.nominal, false, scratch, out);
    }

    /// Every output at values that the inputs may have: of a canal as it may
    /// be, see [`mod@super::lengthening`].
    pub fn evaluate_possible(&self, values: &[f64], scratch: &mut Scratch, out: &mut [f64]) {
        self.evaluate(values, true, scratch, out);
    }

    fn evaluate(&self, values: &[f64], possible: bool, scratch: &mut Scratch, out: &mut [f64]) {
        out.fill(f64::NAN);
        self.measure_objects(values, possible, scratch);
        let size = |index: usize| scratch.object_sizes[index];
        let is_file = |index: usize| self.objects[index].kind == ScaleObjectKind::File;
        out[0] = self.tooth_per_detector(values, size, is_file);
        for (index, canal) in self.canals.iter().enumerate() {
            let from = Self::canal_offset(index);
            let out = &mut out[from..from + CANAL_OUTPUTS];
            self.evaluate_canal(canal, values, possible, scratch, out);
        }
    }

    /// The fitted path of a canal at the best estimates; `None` where there is
    /// none.
    pub fn best_shape(&self, canal: usize, scratch: &mut Scratch) -> Option<CanalShape<'_>> {
        self.shape(canal, &self.nominal, false, scratch)
    }

    /// The same at values that the inputs may have, as in
    /// [`Model::evaluate_possible`].
    pub fn possible_shape(
        &self,
        canal: usize,
        values: &[f64],
        scratch: &mut Scratch,
    ) -> Option<CanalShape<'_>> {
        self.shape(canal, values, true, scratch)
    }

    fn shape(
        &self,
        canal: usize,
        values: &[f64],
        possible: bool,
        scratch: &mut Scratch,
    ) -> Option<CanalShape<'_>> {
        self.measure_objects(values, possible, scratch);
        let mut out = [f64::NAN; CANAL_OUTPUTS];
        self.evaluate_canal(&self.canals[canal], values, possible, scratch, &mut out)
    }

    /// Sizes of all objects on the film, detector units, into `scratch`.
    fn measure_objects(&self, values: &[f64], possible: bool, scratch: &mut Scratch) {
        scratch.object_sizes.clear();
        for object in &self.objects {
            self.gather(values, &object.points, &mut scratch.points);
            let size = apparent_size(object.kind, &scratch.points, &mut scratch.object_curve);
            let size = size.unwrap_or(f64::NAN);
            // Once for the clicks made, once for those drawn.
            let noise = if possible {
                2.0 * object.lengthening
            } else {
                0.0
            };
            scratch.object_sizes.push(size - noise);
        }
    }

    /// True mm per detector unit; NaN without a scale. `size` gives each
    /// object's length in the film's plane in detector units; objects that are
    /// not `in_plane` may lie at another depth.
    fn tooth_per_detector(
        &self,
        values: &[f64],
        size: impl Fn(usize) -> f64,
        in_plane: impl Fn(usize) -> bool,
    ) -> f64 {
        let scalar = |index| self.inputs.scalar(values, index);
        match &self.basis {
            ScaleBasis::Objects(weighted) => {
                let of_object = |&(index, weight): &(usize, f64)| {
                    let object = &self.objects[index];
                    let depth = if in_plane(index) {
                        1.0
                    } else {
                        scalar(object.depth)
                    };
                    weight * depth * scalar(object.true_size) / size(index)
                };
                weighted.iter().map(of_object).sum()
            }
            ScaleBasis::Film { divisor, factor } => scalar(*factor) / divisor,
            ScaleBasis::None => f64::NAN,
        }
    }

    fn detector_point(&self, values: &[f64], landmark: LandmarkIndex) -> Point {
        let place_px = self.inputs.place(values, landmark);
        self.frame.detector_from_film(place_px)
    }

    fn gather(&self, values: &[f64], landmarks: &[LandmarkIndex], points: &mut Vec<Point>) {
        points.clear();
        points.extend(landmarks.iter().map(|&l| self.detector_point(values, l)));
    }

    /// The outputs of a canal into `out`, and its shape where a path could be
    /// fitted. The objects have been measured.
    fn evaluate_canal<'c>(
        &self,
        canal: &'c CanalModel,
        values: &[f64],
        possible: bool,
        scratch: &mut Scratch,
        out: &mut [f64],
    ) -> Option<CanalShape<'c>> {
        let scalar = |index| self.inputs.scalar(values, index);
        let at = |l: Option<LandmarkIndex>| l.map(|l| self.detector_point(values, l));
        let (reference, tip, apex) = (at(canal.reference), at(canal.tip), at(canal.apex));
        let Scratch {
            points,
            curve,
            object_sizes,
            moved,
            ..
        } = scratch;

        let bends = canal.bends.as_ref().ok();
        self.gather(values, &canal.path, points);
        let settled = bends.is_some_and(|bends| bends.settle(scalar(canal.form), points));
        // Points settled on their path carry the noise drawn, others that of
        // the clicks made as well.
        let noise = match (possible, settled) {
            (false, _) => 0.0,
            (true, true) => canal.lengthening,
            (true, false) => 2.0 * canal.lengthening,
        };
        // Lengths run along the curve through the points.
        let curve = drawn(curve, points);
        // The canal's end, where angles are read, is not quite the apex.
        let aside = canal.aside.map(|aside| aside.map(scalar));
        if let (Some(last), Some([x, y, _])) = (points.last_mut(), aside) {
            *last += Vec2::new(x, y);
        }
        let fitted = bends.and_then(|b| b.refit(scalar(canal.form), points));
        let lean_rad = scalar(self.lean);
        let lean = lean_rad.cos().recip();
        let way = curve.map(|curve| {
            let path = CanalPath::new(curve, fitted.as_deref().map(bends::end_direction));
            let length = curve.length();
            // The film's scale holds at the tooth's middle, half way from the
            // reference to the path's end.
            let coronal = reference.map_or(0.0, |reference| {
                if canal.reference_on_path {
                    -path.station(reference).length_at
                } else {
                    reference.distance(path.start())
                }
            });
            let before_middle = 0.5 * (coronal + length) - coronal;
            let start_depth = -before_middle * lean_rad.tan();
            let depth = DepthProfile::new(
                bends.map(BendModel::path),
                Start {
                    lean_rad,
                    depth: start_depth / length,
                },
                &canal.planes.map(scalar),
                length * self.source_per_detector,
            );
            Way {
                without_noise: 1.0 - noise / length,
                beyond_canal: aside.map_or(0.0, |aside| {
                    beyond_canal(aside, path.end_direction(), self.clicks.foramen_to_apex())
                }),
                path,
                depth,
                length,
            }
        });
        // Coronal to the path the root leans away from the source, or to it.
        let start_depth = way.as_ref().map_or(0.0, |way| way.in_space(0.0).depth);
        let coronal_in_space = |length: f64| {
            let depth = start_depth - 0.5 * length * lean_rad.tan();
            length * lean * (1.0 - 2.0 * depth * self.source_per_detector)
        };
        // From a place to where the path starts, on the film and in space;
        // negative for a place along the path.
        let way_to_start = |way: &Way<'_>, place: Point, on_path: bool| {
            if on_path {
                let station = way.station(place).length_at;
                (-station, -way.in_space(station).length)
            } else {
                let straight = place.distance(way.start());
                (straight, coronal_in_space(straight))
            }
        };

        let station = |place: Point| way.as_ref().map(|way| way.station(place).length_at);
        let tip_station = tip.and_then(station);
        let apex_station = match canal.aside {
            // The trace ends on it.
            Some(_) => way.as_ref().map(|way| way.length),
            None => apex.and_then(station),
        };

        // A canal's own file leans and bends with it, another file of the
        // tooth leans with it; ball, ruler and film know of neither.
        let stretch = |index: usize| {
            let object = &self.objects[index];
            match &way {
                Some(way) if canal.own_file == Some(index) => {
                    let stop = self.detector_point(values, object.points[0]);
                    let last = object.points[object.points.len() - 1];
                    let file_tip = match tip_station {
                        Some(station) if canal.tip == Some(last) => station,
                        _ => way.station(self.detector_point(values, last)).length_at,
                    };
                    let (coronal, coronal_in_space) = if canal.has_trace {
                        way_to_start(way, stop, canal.stop_on_path)
                    } else {
                        (0.0, 0.0)
                    };
                    (coronal_in_space + way.in_space(file_tip).length) / (coronal + file_tip)
                }
                _ if object.kind == ScaleObjectKind::File => lean,
                _ => 1.0,
            }
        };
        let size = |index: usize| object_sizes[index] * stretch(index);
        let is_own = |index| canal.own_file == Some(index);
        let tooth_per_detector = self.tooth_per_detector(values, size, is_own);

        if let (Some(bends), Some(path)) = (bends, fitted.as_deref()) {
            self.gather_moved(values, canal, moved);
            bends.outputs(
                path,
                tooth_per_detector,
                moved,
                &mut out[LengthQuantity::COUNT..],
            );
        }
        let mut set = |output: LengthQuantity, length: f64| {
            out[output as usize] = length * tooth_per_detector;
        };

        if let (Some(way), true) = (&way, canal.has_trace) {
            let end = way.in_space(way.length);
            let depth = end.depth - start_depth;
            let length = end.length * way.without_noise;
            set(LengthQuantity::CurvedLength, length + way.beyond_canal);
            set(LengthQuantity::Chord, way.path.chord().hypot(depth));
        }
        let in_space = |station: Option<f64>| Some(way.as_ref()?.in_space(station?));
        let (mut tip_at, mut apex_at) = (in_space(tip_station), in_space(apex_station));
        if let Some(way) = &way {
            for place in [&mut tip_at, &mut apex_at].into_iter().flatten() {
                place.length *= way.without_noise;
            }
            if let Some(apex) = &mut apex_at {
                apex.length += way.beyond_canal;
            }
        }

        let mut tip_to_apex = f64::NAN;
        if let (Some(tip), Some(apex)) = (tip, apex) {
            let straight = tip.distance(apex);
            let (along, depth) = match (tip_at, apex_at) {
                (Some(tip), Some(apex)) => (apex.length - tip.length, apex.depth - tip.depth),
                // Which side of the apex cannot be told without either.
                _ => {
                    let side = reference.map_or(f64::NAN, |r| straight_side(r, tip, apex));
                    (side * straight * lean, straight * lean_rad.tan())
                }
            };
            tip_to_apex = along * tooth_per_detector;
            set(LengthQuantity::TipToApex, along);
            let straight = straight.hypot(depth);
            if !along.is_nan() {
                set(LengthQuantity::TipToApexStraight, straight.copysign(along));
            }
        }

        // The way beyond the reference: from where the path is entered.
        let mut reference_to_apex = f64::NAN;
        if let (Some(reference), Some(way), Some(apex)) = (reference, &way, apex_at) {
            let (_, coronal) = way_to_start(way, reference, canal.reference_on_path);
            reference_to_apex = coronal + apex.length;
            set(LengthQuantity::ReferenceToApex, reference_to_apex);
        }

        if let Some(set_length) = canal.set_length {
            out[LengthQuantity::Additive as usize] =
                working_length::additive_mm(scalar(set_length), tip_to_apex, canal.allowance_mm);
        }
        let tooth_mm = match canal.own_file {
            Some(file) => calibration::grossman_mm(
                scalar(self.objects[file].true_size),
                reference_to_apex,
                size(file),
            ),
            None => reference_to_apex * tooth_per_detector,
        };
        out[LengthQuantity::Proportion as usize] = tooth_mm - canal.allowance_mm;

        fitted.map(|path| CanalShape {
            apex_at: match (canal.aside, apex) {
                (None, Some(apex)) => path.project(apex).length_at,
                _ => path.length(),
            },
            tooth_per_detector,
            path,
        })
    }

    /// Standard deviation of a click on that kind of place per coordinate,
    /// detector units.
    pub fn click(&self, kind: LandmarkKind, assisted: bool) -> f64 {
        self.clicks.of(kind, assisted)
    }

    /// Distance of a canal's tip from its path at the best estimates, mm.
    pub fn tip_off_path_mm(&self, canal: usize) -> Option<f64> {
        self.off_path_mm(canal, self.canals[canal].tip?)
    }

    /// Distance of a canal's apex from its path at the best estimates, mm.
    pub fn apex_off_path_mm(&self, canal: usize) -> Option<f64> {
        self.off_path_mm(canal, self.canals[canal].apex?)
    }

    /// Mean distance between neighbouring points of a canal's trace at the best
    /// estimates, in standard deviations of a click on one.
    pub fn spacing_in_noise(&self, canal: usize) -> Option<f64> {
        let canal = &self.canals[canal];
        let mut points = Vec::new();
        self.gather(&self.nominal, &canal.path, &mut points);
        let gaps = points.windows(2).map(|pair| pair[0].distance(pair[1]));
        let spacing = gaps.sum::<f64>() / (points.len().checked_sub(1)? as f64);
        let click = self.clicks.of(LandmarkKind::Canal, canal.assisted);
        Some(spacing / click).filter(|spacing| spacing.is_finite())
    }

    fn off_path_mm(&self, canal: usize, place: LandmarkIndex) -> Option<f64> {
        let canal = &self.canals[canal];
        let mut points = Vec::new();
        self.gather(&self.nominal, &canal.path, &mut points);
        let curve = DrawnCurve::through(&points).ok()?;
        let place = self.detector_point(&self.nominal, place);
        let end_direction = canal.bends.as_ref().ok().map(BendModel::end_direction);
        let distance = CanalPath::new(&curve, end_direction)
            .station(place)
            .distance;
        let distance_mm = distance * self.nominal_tooth_per_detector();
        distance_mm.is_finite().then_some(distance_mm)
    }

    /// The bends of a canal: its fitted path and everything drawn from it.
    ///
    /// # Errors
    /// Why no path could be fitted.
    pub fn bends(&self, canal: usize) -> Result<&BendModel, FitError> {
        self.canals[canal].bends.as_ref().map_err(|error| *error)
    }

    /// Curvature of a canal at the best estimates, mm (px without a scale).
    ///
    /// # Errors
    /// Why no path could be fitted.
    pub fn curvature(&self, canal: usize) -> Result<Curvature, FitError> {
        let mut moved = Vec::new();
        self.gather_moved(&self.nominal, &self.canals[canal], &mut moved);
        let bends = self.bends(canal)?;
        Ok(bends.curvature(self.nominal_tooth_per_detector(), &moved))
    }

    /// The shortest arc of a canal's fitted path that is not a kink, in the
    /// unit of [`Self::curvature`].
    pub fn shortest_arc(&self, canal: usize) -> Option<f64> {
        let bends = self.bends(canal).ok()?;
        let (_, _, factor) = bends.measured_path(self.nominal_tooth_per_detector());
        Some(bends.point_sd() * factor)
    }

    /// What each curvature method draws on a canal, detector frame.
    ///
    /// # Errors
    /// Why no path could be fitted.
    pub fn constructions(&self, canal: usize) -> Result<Vec<Construction>, FitError> {
        let mut moved = Vec::new();
        self.gather_moved(&self.nominal, &self.canals[canal], &mut moved);
        let bends = self.bends(canal)?;
        Ok(bends.constructions(self.nominal_tooth_per_detector(), &moved))
    }

    /// True mm per detector unit at the best estimates; NaN without a scale.
    pub fn nominal_tooth_per_detector(&self) -> f64 {
        let mut points = Vec::new();
        let sizes: Vec<_> = self
            .objects
            .iter()
            .map(|object| {
                self.gather(&self.nominal, &object.points, &mut points);
                apparent_size(object.kind, &points, &mut None).unwrap_or(f64::NAN)
            })
            .collect();
        self.tooth_per_detector(&self.nominal, |index| sizes[index], |_| true)
    }

    fn gather_moved(&self, values: &[f64], canal: &CanalModel, moved: &mut Vec<(Landmark, Point)>) {
        moved.clear();
        let places = canal.moved.iter();
        moved.extend(places.map(|&(name, l)| (name, self.detector_point(values, l))));
    }

    /// Input values from which slopes are taken: the best estimates, with the
    /// likeliest bent form in place of a straight one. A canal that shows
    /// straight has no slopes of its own.
    pub fn slope_point(&self) -> Vec<f64> {
        let mut values = self.nominal.clone();
        let scalars = 2 * self.inputs.landmarks().len();
        for (value, scalar) in values[scalars..].iter_mut().zip(self.inputs.scalars()) {
            if scalar.kind == ScalarKind::CurveForm {
                *value = f64::MIN_POSITIVE;
            }
        }
        values
    }

    /// The inputs with their distributions, in the order of the flat vector.
    /// A click noise measured from few repeats is drawn from t; all clicks of
    /// a kind rest on the same estimate of it.
    ///
    /// # Errors
    /// An input without a finite value or spread.
    pub fn input_set(&self) -> Result<InputSet, UncertaintyError> {
        let click = |landmark: &inputs::Landmark| {
            let inputs::Landmark {
                place_px,
                kind,
                assisted,
            } = *landmark;
            let sd = self.clicks.of(kind, assisted);
            let dof = self.clicks.dof(kind, assisted);
            let sd_px = self.frame.film_from_detector(Point::new(sd, sd));
            [(place_px.x, sd_px.x), (place_px.y, sd_px.y)].map(|(value, sd)| {
                let name = InputGroup::Clicks(kind).words();
                if dof.is_finite() {
                    let shape = Shape::ScaledT { scale: sd, dof };
                    Input::new(name, value, shape).of_estimate(kind as usize)
                } else {
                    Input::normal(name, value, sd)
                }
            })
        };
        let scalar = |scalar: &Scalar| {
            let name = InputGroup::Scalar(scalar.kind).words();
            Input::new(name, scalar.value, scalar.spread)
        };
        let clicks = self.inputs.landmarks().iter().flat_map(click);
        let scalars = self.inputs.scalars().iter().map(scalar);
        InputSet::new(clicks.chain(scalars).collect())
    }

    /// What click noise adds to every drawn curve and object.
    fn find_lengthenings(&mut self) {
        let mut points = Vec::new();
        let sd_of = |model: &Self, landmark: LandmarkIndex| {
            let landmark = model.inputs.landmark(landmark);
            model.clicks.of(landmark.kind, landmark.assisted)
        };
        for index in 0..self.objects.len() {
            let object = &self.objects[index];
            self.gather(&self.nominal, &object.points, &mut points);
            let mut memory = None;
            self.objects[index].lengthening = lengthening(
                &points,
                |i| sd_of(self, object.points[i]),
                |points| apparent_size(object.kind, points, &mut memory),
            );
        }
        for index in 0..self.canals.len() {
            let canal = &self.canals[index];
            self.gather(&self.nominal, &canal.path, &mut points);
            let mut memory = None;
            self.canals[index].lengthening = lengthening(
                &points,
                |i| sd_of(self, canal.path[i]),
                |points| Some(drawn(&mut memory, points)?.length()),
            );
        }
    }

    /// Whether references and stops lie along their canals' paths.
    fn find_places_on_paths(&mut self) {
        let mut points = Vec::new();
        for index in 0..self.canals.len() {
            let canal = &self.canals[index];
            self.gather(&self.nominal, &canal.path, &mut points);
            let Ok(curve) = DrawnCurve::through(&points) else {
                continue;
            };
            let path = CanalPath::new(&curve, None);
            let is_on_path = |place: Option<LandmarkIndex>| {
                place.is_some_and(|place| {
                    let station = path.station(self.detector_point(&self.nominal, place));
                    station.length_at > station.distance
                })
            };
            let stop = canal.own_file.map(|file| self.objects[file].points[0]);
            let found = (is_on_path(canal.reference), is_on_path(stop));
            let canal = &mut self.canals[index];
            (canal.reference_on_path, canal.stop_on_path) = found;
        }
    }

    fn fit_bends(&mut self, settings: &Settings) {
        let mut points = Vec::new();
        for index in 0..self.canals.len() {
            let canal = &self.canals[index];
            self.gather(&self.nominal, &canal.path, &mut points);
            let click = self.clicks.of(LandmarkKind::Canal, canal.assisted);
            self.canals[index].bends = BendModel::fit(&points, click, settings);
        }
    }
}

/// A canal's path with what the film hides of it; lengths in detector units.
struct Way<'a> {
    path: CanalPath<'a>,
    depth: DepthProfile,
    /// On the film.
    length: f64,
    /// Share of a length along it that is not click noise.
    without_noise: f64,
    /// What the last piece to the apex is longer than it looks.
    beyond_canal: f64,
}

impl Way<'_> {
    fn start(&self) -> Point {
        self.path.start()
    }

    fn station(&self, point: Point) -> Station {
        self.path.station(point)
    }

    /// From the start to a place `length_at` along the path on the film.
    fn in_space(&self, length_at: f64) -> InSpace {
        self.depth.at(length_at / self.length) * self.length
    }
}

/// What the way from the canal's end to the apex, `foramen_to_apex` long where
/// it runs straight on, is longer for lying aside: across the canal's end in
/// the film's plane, where a trace cuts the corner, and in depth, which the
/// film hides.
fn beyond_canal([x, y, depth]: [f64; 3], end_direction: Vec2, foramen_to_apex: f64) -> f64 {
    let across = end_direction.cross(Vec2::new(x, y));
    foramen_to_apex.hypot(across).hypot(depth) - foramen_to_apex
}

/// The curve through `points`, in reused memory; `None` when there is none.
fn drawn<'a>(memory: &'a mut Option<DrawnCurve>, points: &[Point]) -> Option<&'a DrawnCurve> {
    match memory {
        Some(curve) => curve.refit(points).ok()?,
        None => *memory = Some(DrawnCurve::through(points).ok()?),
    }
    memory.as_ref()
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

/// Length of a traced object, or diameter of a ball, in the points' unit; a
/// curve is drawn in `memory`.
fn apparent_size(
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
fn object_mm_per_px(case: &Case, frame: DetectorFrame) -> Option<f64> {
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
fn true_size_mm(object: &ScaleObject) -> Option<f64> {
    match object.kind {
        ScaleObjectKind::Ball => object.true_diameter_mm,
        ScaleObjectKind::File | ScaleObjectKind::Ruler => object.true_length_mm,
    }
}

/// Rank in the order of trust (docs/methods.md 3): a traced file, then ball and ruler.
fn rank(kind: ScaleObjectKind) -> u8 {
    match kind {
        ScaleObjectKind::File => 0,
        ScaleObjectKind::Ball | ScaleObjectKind::Ruler => 1,
    }
}

/// Turns the parts of a case into parts of the model, collecting inputs.
struct Builder<'a> {
    frame: DetectorFrame,
    uncertainty: &'a InputUncertainty,
    clicks: ClickNoise,
    source_distance_mm: f64,
    inputs: InputsBuilder,
}

impl Builder<'_> {
    fn object(&mut self, object: &ScaleObject) -> Option<ObjectModel> {
        let true_size_mm = true_size_mm(object)?;
        let half_width_mm = match object.kind {
            _ if object.nominal => self.uncertainty.nominal_half_width_mm,
            ScaleObjectKind::File => self.uncertainty.reading_half_width_mm,
            ScaleObjectKind::Ruler => self.uncertainty.ruler_half_width_mm,
            ScaleObjectKind::Ball => self.uncertainty.ball_half_width_mm,
        };
        let spread = Shape::Rectangular {
            half_width: half_width_mm,
        };
        let in_detector: Vec<_> = object
            .points_px
            .iter()
            .map(|&p| self.frame.detector_from_film(p))
            .collect();
        let known = KnownObject {
            true_size_mm,
            u_true_size_mm: spread.standard_uncertainty(),
            u_apparent: self.u_apparent(object),
        };
        let measured = known.measured(apparent_size(object.kind, &in_detector, &mut None)?)?;

        let last = object.points_px.len() - 1;
        let points = object.points_px.iter().enumerate().map(|(i, &p)| {
            let kind = match (object.kind, i) {
                (ScaleObjectKind::File, 0) => LandmarkKind::Reference,
                (ScaleObjectKind::File, i) if i == last => LandmarkKind::Tip,
                _ => LandmarkKind::ScaleObject,
            };
            self.inputs.landmark(p, kind, object.assisted)
        });
        let depth_mm = match object.kind {
            ScaleObjectKind::File => self.uncertainty.depth_to_other_canal_mm,
            ScaleObjectKind::Ball | ScaleObjectKind::Ruler => self.uncertainty.depth_to_object_mm,
        };
        Some(ObjectModel {
            kind: object.kind,
            canal: object.canal.clone(),
            measured,
            points: points.collect(),
            lengthening: 0.0,
            true_size: self.inputs.scalar(Scalar {
                // A file's known length is what its stop was set to.
                kind: match object.kind {
                    ScaleObjectKind::File => ScalarKind::SetLength,
                    ScaleObjectKind::Ball | ScaleObjectKind::Ruler => ScalarKind::KnownLength,
                },
                value: true_size_mm,
                spread,
            }),
            depth: self.inputs.scalar(Scalar {
                kind: ScalarKind::Depth,
                value: 1.0,
                spread: Shape::Normal {
                    sd: depth_mm / self.source_distance_mm,
                },
            }),
        })
    }

    /// Standard uncertainty of an object's size on the film from its clicks:
    /// two ends, or a diameter from rim points.
    fn u_apparent(&self, object: &ScaleObject) -> f64 {
        let click = |kind| self.clicks.of(kind, object.assisted);
        match (object.kind, object.points_px.len()) {
            (ScaleObjectKind::Ball, n) if n > 2 => {
                let rim: Vec<_> = object
                    .points_px
                    .iter()
                    .map(|&p| self.frame.detector_from_film(p))
                    .collect();
                let click = click(LandmarkKind::ScaleObject);
                calibration::u_diameter(&rim, click).unwrap_or(f64::INFINITY)
            }
            (ScaleObjectKind::File, _) => {
                click(LandmarkKind::Reference).hypot(click(LandmarkKind::Tip))
            }
            _ => std::f64::consts::SQRT_2 * click(LandmarkKind::ScaleObject),
        }
    }

    fn canal(
        &mut self,
        canal: &Canal,
        case: &Case,
        objects: &[ObjectModel],
        settings: &Settings,
    ) -> CanalModel {
        let own_object = case.own_file(canal);
        let own_file = objects.iter().position(|o| {
            o.kind == ScaleObjectKind::File && o.canal.as_deref() == Some(canal.name.as_str())
        });
        let has_trace = canal.trace_px.len() >= 2;

        let (path_px, assisted): (&[_], _) = match own_object {
            Some(object) if !has_trace => (&object.points_px, object.assisted),
            _ => (&canal.trace_px, canal.assisted),
        };
        let path: Vec<_> = path_px
            .iter()
            .map(|&p| self.inputs.landmark(p, LandmarkKind::Canal, assisted))
            .collect();

        let file = canal.file.as_ref();
        let object_end = |end: fn(&[_]) -> Option<&_>| own_object.and_then(|o| end(&o.points_px));
        let reference_px = canal.reference_px.or(object_end(<[_]>::first).copied());
        let tip_px = file
            .and_then(|f| f.tip_px)
            .or(object_end(<[_]>::last).copied());
        let apex_px = canal.apex_px.or(canal.trace_px.last().copied());
        // Merged with the trace's or the file's own point where it is one, and
        // assisted only if that is.
        let mut landmark =
            |place, kind, assisted| Option::map(place, |p| self.inputs.landmark(p, kind, assisted));
        let file_assisted = own_object.is_some_and(|o| o.assisted);

        let [reference, tip, apex] = [
            landmark(reference_px, LandmarkKind::Reference, file_assisted),
            landmark(tip_px, LandmarkKind::Tip, file_assisted),
            landmark(apex_px, LandmarkKind::Apex, false),
        ];

        let ends_on_apex = apex.is_some() && apex == path.last().copied();
        let aside = ends_on_apex.then(|| {
            [(); 3].map(|()| {
                self.inputs.scalar(Scalar {
                    kind: ScalarKind::ApexAside,
                    value: 0.0,
                    spread: Shape::Normal {
                        sd: self.clicks.apex_aside(),
                    },
                })
            })
        });

        CanalModel {
            name: canal.name.clone(),
            allowance_mm: canal.allowance_mm.unwrap_or(settings.default_allowance_mm),
            has_trace,
            own_file,
            reference,
            reference_on_path: false,
            stop_on_path: false,
            tip,
            apex,
            set_length: self.set_length(
                file.and_then(|f| f.set_length_mm),
                own_object.and_then(|o| o.true_length_mm),
                own_file.map(|i| objects[i].true_size),
            ),
            moved: canal
                .landmarks
                .iter()
                .filter_map(|(name, &place)| {
                    let landmark = Landmark::from_name(name)?;
                    Some((
                        landmark,
                        self.inputs.landmark(place, LandmarkKind::Curvature, false),
                    ))
                })
                .collect(),
            path,
            assisted,
            lengthening: 0.0,
            planes: std::array::from_fn(|_| {
                self.inputs.scalar(Scalar {
                    kind: ScalarKind::BendPlane,
                    value: 0.0,
                    spread: Shape::Rectangular {
                        half_width: self.uncertainty.bend_plane_half_width_rad,
                    },
                })
            }),
            aside,
            form: self.inputs.scalar(Scalar {
                kind: ScalarKind::CurveForm,
                value: 0.0,
                spread: Shape::Rectangular { half_width: 1.0 },
            }),
            bends: Err(FitError::Points(GeometryError::TooFewPoints {
                needed: 4,
                given: 0,
            })),
        }
    }

    /// The set length of a canal's file: the very input that is the known
    /// length of the traced file where both are one reading.
    fn set_length(
        &mut self,
        typed_mm: Option<f64>,
        traced_mm: Option<f64>,
        traced: Option<ScalarIndex>,
    ) -> Option<ScalarIndex> {
        match typed_mm {
            None => traced,
            Some(typed) if Some(typed) == traced_mm => traced,
            Some(value) => Some(self.inputs.scalar(Scalar {
                kind: ScalarKind::SetLength,
                value,
                spread: Shape::Rectangular {
                    half_width: self.uncertainty.reading_half_width_mm,
                },
            })),
        }
    }

    fn basis(&mut self, objects: &[ObjectModel], film_scale: Option<&FilmScale>) -> ScaleBasis {
        if let Some(best) = objects.iter().map(|o| rank(o.kind)).min() {
            let weights: Vec<_> = objects
                .iter()
                .enumerate()
                .filter(|(_, o)| rank(o.kind) == best)
                .map(|(i, o)| (i, o.measured))
                .map(|(i, MeasuredObject { ratio, u_ratio })| {
                    // An object stated as certain still has a finite weight.
                    (
                        i,
                        u_ratio.max(calibration::LEAST_RELATIVE_U * ratio).powi(-2),
                    )
                })
                .collect();
            let sum: f64 = weights.iter().map(|(_, w)| w).sum();
            return ScaleBasis::Objects(weights.into_iter().map(|(i, w)| (i, w / sum)).collect());
        }
        match film_scale {
            Some(scale) => ScaleBasis::Film {
                divisor: scale.divisor(),
                factor: self.inputs.scalar(Scalar {
                    kind: ScalarKind::FilmScale,
                    value: 1.0,
                    spread: Shape::Normal {
                        sd: self.uncertainty.film_scale_relative,
                    },
                }),
            },
            None => ScaleBasis::None,
        }
    }
}
