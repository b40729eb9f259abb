//! The measurement model of a case (JCGM 101 3.2): one function from the
//! flat input vector to every number of every canal.
//!
//! Whatever does not depend on the draw is settled when the model is built:
//! which objects set the scale and their weights, the structure of each
//! fitted path. Evaluating it is then cheap enough for ten thousand draws.

mod build;
mod canal;
mod entry;
mod object;
mod outputs;
mod readings;
mod route;
mod scale;

use kurbo::Point;

use super::bends::{BendModel, SLOPES};
use super::catalogue::CANAL_OUTPUTS;
use super::click_noise::ClickNoise;
use super::input_group::InputGroup;
use super::inputs::{self, Inputs, PlaceIndex, PlaceKind, Scalar, ScalarIndex, ScalarKind};
use super::path::ProlongedCurve;
use crate::calibration::{DetectorFrame, DetectorUnit};
use crate::case::{ScaleObjectKind, WallSide, Walls};
use crate::curvature::{Construction, Curvature, CurvatureLandmark};
use crate::geometry::{DrawnCurve, FitError};
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet, Shape};

pub use canal::{CanalModel, CanalShape};
use object::MeasuredKind;
pub use outputs::OutputKind;
use readings::BendPoint;
pub use scale::{ObjectModel, ScaleBasis};

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
    /// Angle between root and detector.
    tilt: ScalarIndex,
    /// Detector units times this are shares of the distance from the source.
    source_per_detector: f64,
    nominal: Vec<f64>,
}

/// Values of all inputs with the model they belong to.
struct Draw<'a> {
    model: &'a Model,
    values: &'a [f64],
    /// Values that the inputs may have, not their best estimates: results are
    /// those of a canal as it may be, see [`mod@crate::measure::lengthening`].
    is_possible: bool,
}

/// Memory reused from draw to draw.
#[derive(Debug, Default)]
pub struct Scratch {
    points: Vec<Point>,
    bend_points: Vec<Point>,
    curve: Option<DrawnCurve>,
    object_curve: Option<DrawnCurve>,
    object_sizes: Vec<Option<f64>>,
    moved: Vec<(CurvatureLandmark, Point)>,
}

impl Model {
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

    /// Every output at the best estimates; NaN where an output cannot be had.
    /// `out` holds [`Model::output_count`] values.
    pub fn evaluate_best(&self, scratch: &mut Scratch, out: &mut [f64]) {
        self.evaluate(&self.nominal, false, scratch, out);
    }

    /// Every output at values that the inputs may have: of a canal as it may
    /// be, see [`mod@crate::measure::lengthening`].
    pub fn evaluate_possible(&self, values: &[f64], scratch: &mut Scratch, out: &mut [f64]) {
        self.evaluate(values, true, scratch, out);
    }

    fn evaluate(&self, values: &[f64], is_possible: bool, scratch: &mut Scratch, out: &mut [f64]) {
        let draw = Draw {
            model: self,
            values,
            is_possible,
        };
        out.fill(f64::NAN);
        draw.apparent_sizes(scratch);
        let size = |index: usize| scratch.object_sizes[index];
        let is_file = |index: usize| self.objects[index].kind == ScaleObjectKind::File;
        out[0] = draw.tooth_per_detector(size, is_file).unwrap_or(f64::NAN);
        for (index, canal) in self.canals.iter().enumerate() {
            let from = Self::canal_offset(index);
            canal.evaluate(&draw, scratch, &mut out[from..from + CANAL_OUTPUTS]);
        }
    }

    /// The fitted path of a canal at the best estimates; `None` where there is
    /// none.
    pub fn best_shape(&self, canal: usize, scratch: &mut Scratch) -> Option<CanalShape> {
        self.shape(canal, &self.best(), scratch)
    }

    /// The same at values that the inputs may have, as in
    /// [`Model::evaluate_possible`].
    pub fn possible_shape(
        &self,
        canal: usize,
        values: &[f64],
        scratch: &mut Scratch,
    ) -> Option<CanalShape> {
        let draw = Draw {
            model: self,
            values,
            is_possible: true,
        };
        self.shape(canal, &draw, scratch)
    }

    fn shape(&self, canal: usize, draw: &Draw, scratch: &mut Scratch) -> Option<CanalShape> {
        draw.apparent_sizes(scratch);
        let mut out = [f64::NAN; CANAL_OUTPUTS];
        self.canals[canal].evaluate(draw, scratch, &mut out)
    }

    /// Takes the clicks on a canal's apical third, and on its apex, as less
    /// certain by this factor.
    pub fn doubt_apical_third(&mut self, canal: usize, factor: f64) {
        let Some(canal) = self
            .canals
            .get(canal)
            .filter(|c| c.has_trace && factor > 1.0)
        else {
            return;
        };
        let points = canal.path.iter().map(|&i| self.best().place(i));
        let points: Vec<Point> = points.collect();
        let pieces = points.windows(2).map(|pair| pair[0].distance(pair[1]));
        let length: f64 = pieces.clone().sum();
        let starts = std::iter::once(0.0).chain(pieces.scan(0.0, |sum, piece| {
            *sum += piece;
            Some(*sum)
        }));
        let apical = canal.path.iter().zip(starts);
        let apical = apical.filter(|(_, start)| *start > 2.0 / 3.0 * length);
        let doubted: Vec<PlaceIndex> = apical.map(|(&i, _)| i).chain(canal.apex).collect();
        for place in doubted {
            self.inputs.widen(place, factor);
        }
    }

    /// mm at the detector per px, or of the tooth's plane where only an object
    /// gives a scale; `None` without one.
    pub fn detector_mm_per_px(&self) -> Option<f64> {
        match self.frame.unit() {
            DetectorUnit::Mm => Some(self.frame.mean_pitch()),
            DetectorUnit::Px => self.nominal_tooth_per_detector(),
        }
    }

    /// Standard deviation of a click on that kind of place per coordinate,
    /// detector units.
    pub fn click(&self, kind: PlaceKind, assisted: bool) -> f64 {
        self.clicks.of(kind, assisted)
    }

    /// Standard deviation of each point of a wall where many are taken together
    /// as if none shared anything, detector units: as the film gave it where the
    /// point was read, else that of a click.
    pub fn wall_points(&self, walls: &Walls, side: WallSide) -> Vec<f64> {
        let click = self.click(PlaceKind::Canal, false);
        let read = walls.independent_u_px(side).into_iter();
        read.map(|u_px| u_px.map_or(click, |u_px| u_px * self.frame.mean_pitch()))
            .collect()
    }

    /// Places between the ends of a followed canal that its bends are fitted to,
    /// with the standard deviation of each across the line, detector frame; none
    /// where the points of its trace serve.
    pub fn read_places(&self, canal: usize) -> Vec<(Point, f64)> {
        let [_, between @ .., _] = self.canals[canal].bend_points.as_slice() else {
            return Vec::new();
        };
        let place = |point: &BendPoint| match *point {
            BendPoint::Click(index) => {
                let click = self.inputs.click(index);
                let at = self.inputs.place(&self.nominal, index);
                let sd = self.clicks.of(click.kind, click.assisted);
                (self.frame.detector_from_film(at), sd)
            }
            BendPoint::Reading { at, error, .. } => (at, self.inputs.u_of_scalar(error)),
        };
        between.iter().map(place).collect()
    }

    /// The best estimates as a draw.
    fn best(&self) -> Draw<'_> {
        Draw {
            model: self,
            values: &self.nominal,
            is_possible: false,
        }
    }

    /// Standard uncertainty that the clicks on reference point and tip give the
    /// way between them, detector units.
    pub fn ends_click(&self) -> f64 {
        let click = |kind| self.clicks.of(kind, false);
        click(PlaceKind::Reference).hypot(click(PlaceKind::Tip))
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
        let canal = Some(&self.canals[canal]).filter(|canal| canal.has_trace)?;
        let mut points = Vec::new();
        self.best().gather(&canal.path, &mut points);
        let gaps = points.windows(2).map(|pair| pair[0].distance(pair[1]));
        let spacing = gaps.sum::<f64>() / (points.len().checked_sub(1)? as f64);
        let click = self.clicks.of(PlaceKind::Canal, canal.assisted);
        Some(spacing / click).filter(|spacing| spacing.is_finite())
    }

    fn off_path_mm(&self, canal: usize, place: PlaceIndex) -> Option<f64> {
        let canal = &self.canals[canal];
        let mut points = Vec::new();
        self.best().gather(&canal.path, &mut points);
        let curve = if canal.has_trace {
            DrawnCurve::through(&points).ok()?
        } else {
            DrawnCurve::straight_pieces(&points).ok()?
        };
        let place = self.best().place(place);
        let end_direction = canal.bends.as_ref().ok().map(BendModel::end_direction);
        let distance = ProlongedCurve::new(&curve, end_direction)
            .station(place)
            .distance;
        Some(distance * self.nominal_tooth_per_detector()?)
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
        self.best().gather_moved(&self.canals[canal], &mut moved);
        let bends = self.bends(canal)?;
        Ok(bends.curvature(self.nominal_or_nan(), &moved))
    }

    /// The shortest arc of a canal's fitted path that is not a kink, in the
    /// unit of [`Self::curvature`].
    pub fn shortest_arc(&self, canal: usize) -> Option<f64> {
        let bends = self.bends(canal).ok()?;
        let (_, _, factor) = bends.measured_path(self.nominal_or_nan());
        Some(bends.point_sd() * factor)
    }

    /// What each curvature method draws on a canal, detector frame.
    ///
    /// # Errors
    /// Why no path could be fitted.
    pub fn constructions(&self, canal: usize) -> Result<Vec<Construction>, FitError> {
        let mut moved = Vec::new();
        self.best().gather_moved(&self.canals[canal], &mut moved);
        let bends = self.bends(canal)?;
        Ok(bends.constructions(self.nominal_or_nan(), &moved))
    }

    /// True mm per detector unit at the best estimates; `None` without a scale.
    pub fn nominal_tooth_per_detector(&self) -> Option<f64> {
        let mut scratch = Scratch::default();
        let best = self.best();
        best.apparent_sizes(&mut scratch);
        best.tooth_per_detector(|index| scratch.object_sizes[index], |_| true)
    }

    /// As the curvature of a path takes it: NaN without a scale.
    fn nominal_or_nan(&self) -> f64 {
        self.nominal_tooth_per_detector().unwrap_or(f64::NAN)
    }

    /// Input values from which slopes are taken: the best estimates, with the
    /// bent form that leaves least open in place of their mean. A canal that shows
    /// straight has no slopes of its own.
    pub fn slope_point(&self) -> Vec<f64> {
        let mut values = self.nominal.clone();
        let scalars = 2 * self.inputs.clicks().len();
        for (value, scalar) in values[scalars..].iter_mut().zip(self.inputs.scalars()) {
            if scalar.kind == ScalarKind::CurveForm {
                *value = SLOPES;
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
        let click = |clicked: &inputs::ClickedPlace| {
            let inputs::ClickedPlace {
                place_px,
                kind,
                assisted,
                excess,
            } = *clicked;
            let sd = excess * self.clicks.of(kind, assisted);
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
        let clicks = self.inputs.clicks().iter().flat_map(click);
        let scalars = self.inputs.scalars().iter().map(scalar);
        InputSet::new(clicks.chain(scalars).collect())
    }
}

impl Draw<'_> {
    fn scalar(&self, index: ScalarIndex) -> f64 {
        self.model.inputs.scalar(self.values, index)
    }

    /// A clicked place in the detector frame.
    fn place(&self, index: PlaceIndex) -> Point {
        let place_px = self.model.inputs.place(self.values, index);
        self.model.frame.detector_from_film(place_px)
    }

    fn gather(&self, indices: &[PlaceIndex], points: &mut Vec<Point>) {
        points.clear();
        points.extend(indices.iter().map(|&i| self.place(i)));
    }

    /// The points that the bends of a followed canal are fitted to.
    fn gather_bend_points(&self, bend_points: &[BendPoint], points: &mut Vec<Point>) {
        points.clear();
        points.extend(bend_points.iter().map(|point| match *point {
            BendPoint::Click(index) => self.place(index),
            BendPoint::Reading { at, across, error } => at + across * self.scalar(error),
        }));
    }

    fn gather_moved(&self, canal: &CanalModel, moved: &mut Vec<(CurvatureLandmark, Point)>) {
        moved.clear();
        let places = canal.moved.iter();
        moved.extend(places.map(|&(name, l)| (name, self.place(l))));
    }

    /// The size of every object on the film, detector units.
    fn apparent_sizes(&self, scratch: &mut Scratch) {
        scratch.object_sizes.clear();
        for object in &self.model.objects {
            self.gather(&object.points, &mut scratch.points);
            let kind = MeasuredKind::of(object.kind);
            let size = kind.apparent_size(&scratch.points, &mut scratch.object_curve);
            // That of the clicks made, and of those drawn.
            let drawn = if self.is_possible {
                object.lengthening
            } else {
                0.0
            };
            let noise = object.lengthening_shown + drawn;
            scratch.object_sizes.push(size.map(|size| size - noise));
        }
    }

    fn tooth_per_detector(
        &self,
        size: impl Fn(usize) -> Option<f64>,
        in_plane: impl Fn(usize) -> bool,
    ) -> Option<f64> {
        let model = self.model;
        model
            .basis
            .tooth_per_detector(&model.inputs, self.values, &model.objects, size, in_plane)
    }
}
