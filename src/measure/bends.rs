//! The bends of one canal: the fitted path, refitted at every draw, and the
//! curvature methods on it.

use std::borrow::Cow;

use arrayvec::ArrayVec;
use kurbo::{Affine, Point, Vec2};

use super::settings::MeasureSettings;
use crate::curvature::{
    self, Construction, Curvature, CurvatureLandmark, CurvatureNumbers, CurvatureSettings, Curve,
    LandmarkOverrides, MeanNumbers, Note, PathUnit, curve_by_curve,
};
use crate::geometry::{
    DrawnCurve, FitError, FitOptions, MAX_ARCS, PathFit, Piece, SHAPE_MODES, StraightArcPath,
    WeightedForm, fit_weighted_path,
};

/// Least standard deviation of a point the fit is told, as a share of the
/// path's chord: points without any noise still need a scale to be compared
/// on.
const LEAST_RELATIVE_SD: f64 = 1e-7;

/// An arc no longer than this many standard deviations of a point is a kink.
const KINK: f64 = 1.001;
/// The input of the form at which slopes are taken, in place of the best
/// estimates.
pub const SLOPES: f64 = f64::MIN_POSITIVE;
/// Probability by chance below which the points contradict a statement.
pub const CLEARLY: f64 = 0.01;

/// A canal's fitted path at the best estimates, and what follows from it.
#[derive(Clone, Debug)]
pub struct BendModel {
    fit: PathFit,
    /// Standard deviation of one point, detector units.
    point_sd: f64,
    nominal_points: Vec<Point>,
    settings: CurvatureSettings,
    /// Curves that are listed, coronal first.
    curves: ArrayVec<Span, MAX_ARCS>,
}

/// Where a curve lies and to which side it turns.
#[derive(Clone, Copy, Debug)]
struct Span {
    /// Start and end from the apical end, as shares of the path.
    from_apex: [f64; 2],
    turn_rad: f64,
}

impl Span {
    fn new(curve: &Curve, path_length: f64) -> Self {
        Self {
            from_apex: [curve.start_from_apex, curve.end_from_apex].map(|s| s / path_length),
            turn_rad: curve.turn_rad,
        }
    }

    /// Common share of the path of two curves to the same side; not positive
    /// where there is none.
    fn overlap(&self, other: &Self) -> f64 {
        if self.turn_rad * other.turn_rad <= 0.0 {
            return 0.0;
        }
        let [start, end] = [0, 1].map(|i| [self.from_apex[i], other.from_apex[i]]);
        start[0].min(start[1]) - end[0].max(end[1])
    }
}

/// A curve is listed where forms with this share have it.
const LEAST_LISTED: f64 = 0.5;

/// The curves of the likeliest form that forms with at least half of the shares
/// have as well, and in any case its greatest one and those that turn by more
/// than `never_slight_rad`. Curves to one side between which one is left out are
/// one.
fn listed(fit: &PathFit, never_slight_rad: f64) -> ArrayVec<Span, MAX_ARCS> {
    let spans = |path: &StraightArcPath| -> ArrayVec<Span, MAX_ARCS> {
        let curves = curve_by_curve::curves(path);
        curves.iter().map(|c| Span::new(c, path.length())).collect()
    };
    let found = spans(fit.path());
    let forms: Vec<_> = fit
        .forms()
        .iter()
        .map(|f| (f.share, spans(&f.path)))
        .collect();
    let greatest = found
        .iter()
        .fold(0.0, |most: f64, s| most.max(s.turn_rad.abs()));
    let is_listed = |span: &Span| {
        let with = forms
            .iter()
            .filter(|(_, own)| own.iter().any(|o| span.overlap(o) > 0.0));
        let share: f64 = with.map(|(share, _)| share).sum();
        let turn = span.turn_rad.abs();
        turn >= greatest || turn > never_slight_rad || share >= LEAST_LISTED
    };
    let mut listed = ArrayVec::<Span, MAX_ARCS>::new();
    for span in found.iter().filter(|span| is_listed(span)) {
        match listed.last_mut() {
            Some(last) if last.turn_rad * span.turn_rad > 0.0 => {
                last.from_apex[1] = span.from_apex[1];
                last.turn_rad += span.turn_rad;
            }
            _ => listed.push(*span),
        }
    }
    listed
}

impl BendModel {
    /// Fits the path to points in the detector frame whose standard deviation
    /// is `click` in the same unit.
    ///
    /// # Errors
    /// [`FitError`] for fewer than four points, or when no fit could be had.
    pub fn fit(points: &[Point], click: f64, settings: &MeasureSettings) -> Result<Self, FitError> {
        Self::fit_weighted(points, &[], click, None, settings)
    }

    /// As [`BendModel::fit`], to points of unequal standard deviation: `weights`
    /// are (`click`/u)² of each; empty: 1 each. `form_power` is that of
    /// [`FitOptions`] where it is not the usual one.
    ///
    /// # Errors
    /// As [`BendModel::fit`].
    pub fn fit_weighted(
        points: &[Point],
        weights: &[f64],
        click: f64,
        form_power: Option<f64>,
        settings: &MeasureSettings,
    ) -> Result<Self, FitError> {
        let chord = match points {
            [first, .., last] => first.distance(*last),
            _ => 0.0,
        };
        let point_sd = click.max(LEAST_RELATIVE_SD * chord);
        let usual = FitOptions::new(point_sd);
        let options = FitOptions {
            form_power: form_power.unwrap_or(usual.form_power),
            ..usual
        };
        let fit = fit_weighted_path(points, weights, &options)?;
        Ok(Self {
            curves: listed(&fit, settings.s_shape_least_turn_rad),
            point_sd,
            fit,
            nominal_points: points.to_vec(),
            settings: CurvatureSettings {
                s_shape_threshold_rad: settings.s_shape_least_turn_rad,
            },
        })
    }

    /// The fit at the best estimates, detector frame.
    pub fn path_fit(&self) -> &PathFit {
        &self.fit
    }

    /// Standard deviation of one point, detector units: the shortest arc that
    /// is not a kink.
    pub fn point_sd(&self) -> f64 {
        self.point_sd
    }

    /// The fitted path at the best estimates, detector frame.
    pub fn path(&self) -> &StraightArcPath {
        self.fit.path()
    }

    /// Direction in which the fitted path ends.
    pub fn end_direction(&self) -> Vec2 {
        end_direction(self.fit.path())
    }

    /// The fitted path as the curvature methods see it: in mm of the tooth
    /// frame, in px where `tooth_per_detector` is NaN, with its unit and the
    /// factor from the detector frame.
    pub fn measured_path(&self, tooth_per_detector: f64) -> (StraightArcPath, PathUnit, f64) {
        match self.fit.path().scaled(tooth_per_detector) {
            Some(path) if !tooth_per_detector.is_nan() => {
                (path, PathUnit::Millimetre, tooth_per_detector)
            }
            _ => (self.fit.path().clone(), PathUnit::Pixel, 1.0),
        }
    }

    /// Everything about curvature at the best estimates: as the likeliest form
    /// has it, its class by the mean over all forms. Lengths in mm, or in px
    /// where `tooth_per_detector` is NaN. `moved` are the landmarks the user has
    /// moved, detector frame.
    pub fn curvature(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Curvature {
        let curvature = self.matched(self.fit.path(), tooth_per_detector, moved);
        match self.mean_numbers(tooth_per_detector, moved) {
            Some(numbers) => curvature.with_class_of(&numbers, &self.settings),
            None => curvature,
        }
    }

    /// Mean of every number over the forms, as often as each is likely; `None`
    /// where the canal shows straight, and its numbers are those of a straight
    /// one.
    fn mean_numbers(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Option<CurvatureNumbers> {
        if self.curves.is_empty() {
            return None;
        }
        let mut mean = MeanNumbers::default();
        for form in self.fit.forms() {
            let found = self.matched(&form.path, tooth_per_detector, moved);
            let is_kink = |piece: &Piece| {
                matches!(piece, Piece::Arc { .. }) && piece.length() <= KINK * self.point_sd
            };
            let with_radii = !form.path.pieces().iter().any(is_kink);
            mean.add(&found.numbers(), form.share, with_radii);
        }
        mean.numbers()
    }

    /// The bend outputs at the best estimates: the mean over the forms.
    pub fn best_outputs(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
        out: &mut [f64],
    ) {
        match self.mean_numbers(tooth_per_detector, moved) {
            Some(numbers) => out.copy_from_slice(&numbers.values),
            None => self.outputs(self.fit.path(), tooth_per_detector, moved, out),
        }
    }

    /// What each method draws at the best estimates, detector frame.
    /// Arguments as for [`BendModel::curvature`].
    pub fn constructions(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Vec<Construction> {
        let tooth = ToothFrame::of(self.fit.path(), tooth_per_detector, moved);
        let length = tooth.path.length();
        let mut drawn =
            curvature::constructions_listed(&tooth.path, tooth.unit, &tooth.overrides, |curve| {
                self.listed_as(curve, length).is_some()
            });
        let detector_from_tooth = Affine::scale(1.0 / tooth.per_detector);
        for construction in &mut drawn {
            for line in &mut construction.lines {
                *line = detector_from_tooth * *line;
            }
            for circle in &mut construction.circles {
                circle.center = detector_from_tooth * circle.center;
                circle.radius /= tooth.per_detector;
            }
            for (_, point) in &mut construction.points {
                *point = detector_from_tooth * *point;
            }
        }
        drawn
    }

    /// The form a draw takes: one of those that the points leave possible, each
    /// as often as it is likely; `None` for the best estimates. No canal is
    /// straight to the last digit: a straight draw would claim to know the angle
    /// exactly, and none is made. Slopes are taken on the likeliest form of
    /// straight pieces and arcs, without one on a smooth form that leaves as much
    /// open as most.
    fn pick(&self, form: f64) -> Option<&WeightedForm> {
        if form == 0.0 {
            return None;
        }
        let forms = self.fit.forms();
        if form == SLOPES {
            if let Some(closed) = forms.iter().find(|form| form.is_closed()) {
                return Some(closed);
            }
            let mut by_openness: Vec<&WeightedForm> = forms.iter().collect();
            by_openness.sort_by(|a, b| a.open_turn_rad().total_cmp(&b.open_turn_rad()));
            return by_openness.get(by_openness.len() / 2).copied();
        }
        let reached = forms.iter().scan(0.0, |sum, form| {
            *sum += form.share;
            Some(*sum)
        });
        let found = reached
            .zip(forms)
            .find(|(reached, _)| form.abs() <= *reached);
        found.map(|(_, form)| form).or(forms.last())
    }

    /// Moves clicked `points` to where a draw sees them. A draw is made about
    /// the path, not about the clicks, which already lie off it by noise of
    /// their own: noise added twice would lengthen a path twice and bend it
    /// more than it may be bent. `form` is the input
    /// [`super::inputs::ScalarKind::CurveForm`]; at 0, the best estimates, all
    /// stays: `false`.
    pub fn project_onto_path(&self, form: f64, points: &mut [Point]) -> bool {
        let form = self.pick(form);
        if let Some(form) = form {
            let offsets = form.feet.iter().zip(&self.nominal_points);
            for (point, (foot, clicked)) in points.iter_mut().zip(offsets) {
                *point += *foot - *clicked;
            }
        }
        form.is_some()
    }

    /// The fitted path for settled points; `None` where the refit fails.
    /// `shape` are deviates of what no point tells, see
    /// [`WeightedForm::refit`].
    pub fn refit(
        &self,
        form: f64,
        points: &[Point],
        shape: &[f64; SHAPE_MODES],
    ) -> Option<Cow<'_, StraightArcPath>> {
        let refitted = match self.pick(form) {
            // Most inputs leave a canal's own points alone.
            None if points == self.nominal_points => return Some(Cow::Borrowed(self.fit.path())),
            None => self.fit.form().refit(points),
            Some(form) => form.refit(points, shape),
        };
        refitted.ok().map(Cow::Owned)
    }

    /// What click noise adds to the length of the curve drawn through the
    /// points, as their scatter shows it: their curve's length less that through
    /// their feet on the path, but no more than the scatter explains.
    /// `by_statement` is the mean lengthening at the stated noise.
    pub fn lengthening_shown(&self, by_statement: f64) -> f64 {
        let length = |points: &[Point]| Some(DrawnCurve::through(points).ok()?.length());
        let lengths = self
            .fit
            .forms()
            .first()
            .and_then(|form| Some(length(&self.nominal_points)? - length(&form.feet)?));
        let ratio = self.fit.scatter_ratio().min(self.fit.local_scatter_ratio());
        /// The lengthening of one trace varies about its mean.
        const MOST_OF_MEAN: f64 = 1.5;
        /// Points that scatter less than this share of the statement are not
        /// those of a hand: their curve is as long as it is.
        const NO_HAND: f64 = 0.1;
        if ratio < NO_HAND {
            return 0.0;
        }
        let most = MOST_OF_MEAN * ratio * ratio * by_statement;
        lengths.unwrap_or(0.0).clamp(0.0, most.max(0.0))
    }

    /// By how much the points scatter more than stated; 1 where they do not.
    pub fn scatter_excess(&self) -> f64 {
        let check = self.fit.check();
        let shown = if check.scatter_p < CLEARLY {
            check.scatter_ratio
        } else {
            self.fit.scatter_ratio()
        };
        shown.max(1.0)
    }

    /// The bend outputs of a path found by [`BendModel::refit`].
    ///
    /// Curves are those of the best estimates: each takes its numbers from the
    /// curve to the same side that lies where it lies, and has no turn where
    /// there is none.
    pub fn outputs(
        &self,
        path: &StraightArcPath,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
        out: &mut [f64],
    ) {
        let curvature = self.matched(path, tooth_per_detector, moved);
        out.copy_from_slice(&curvature.numbers().values);
    }

    fn matched(
        &self,
        path: &StraightArcPath,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Curvature {
        let tooth = ToothFrame::of(path, tooth_per_detector, moved);
        let length = tooth.path.length();
        let mut curvature = curvature::evaluate_listed(
            &tooth.path,
            tooth.unit,
            &tooth.overrides,
            &self.settings,
            |curve| self.listed_as(curve, length).is_some(),
        );
        let worst = curvature.difficulty.curve;
        curvature.difficulty.curve = worst
            .and_then(|index| curvature.curves.get(index))
            .and_then(|curve| self.listed_as(curve, length));
        curvature.curves = self.counterparts(&curvature.curves, length);
        let is_alone = self.curves.len() <= 1;
        let others = |note: &Note| matches!(note, Note::OtherCurves { .. });
        curvature.notes.retain(|note| !(is_alone && others(note)));
        curvature
    }

    /// Index of the listed curve to the same side that shares most of a curve's
    /// place on a path of that length.
    fn listed_as(&self, curve: &Curve, length: f64) -> Option<usize> {
        let span = Span::new(curve, length);
        let overlaps = self.curves.iter().map(|listed| listed.overlap(&span));
        let most = overlaps.enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        most.filter(|(_, overlap)| *overlap > 0.0)
            .map(|(index, _)| index)
    }

    /// For each curve of the best estimates the one among `drawn` to the same
    /// side that shares most of its place; one without a turn where there is
    /// none. `length` is that of the drawn path.
    fn counterparts(
        &self,
        drawn: &ArrayVec<Curve, MAX_ARCS>,
        length: f64,
    ) -> ArrayVec<Curve, MAX_ARCS> {
        let counterpart = |span: &Span| {
            let overlap = |curve: &&Curve| span.overlap(&Span::new(curve, length));
            let nearest = drawn
                .iter()
                .max_by(|a, b| overlap(a).total_cmp(&overlap(b)));
            let found = nearest.filter(|curve| overlap(curve) > 0.0).copied();
            found.unwrap_or(NO_CURVE)
        };
        self.curves.iter().map(counterpart).collect()
    }
}

/// A curve that a draw does not have.
const NO_CURVE: Curve = Curve {
    turn_rad: 0.0,
    radius: f64::NAN,
    arc_length: 0.0,
    start_from_apex: f64::NAN,
    end_from_apex: f64::NAN,
    schneider_rad: 0.0,
    schneider_to_apex_rad: 0.0,
    pieces: [0; 2],
};

/// Direction in which a fitted path ends.
pub fn end_direction(path: &StraightArcPath) -> Vec2 {
    path.pose_at_length(path.length()).direction
}

/// A path and moved landmarks in the tooth frame, or as they are in px where
/// no scale is known.
struct ToothFrame {
    path: StraightArcPath,
    unit: PathUnit,
    overrides: LandmarkOverrides,
    per_detector: f64,
}

impl ToothFrame {
    fn of(
        path: &StraightArcPath,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Self {
        let in_mm = path
            .scaled(tooth_per_detector)
            .map(|path| (path, PathUnit::Millimetre, tooth_per_detector));
        let (path, unit, per_detector) =
            in_mm.unwrap_or_else(|| (path.clone(), PathUnit::Pixel, 1.0));
        let mut overrides = LandmarkOverrides::none();
        for &(landmark, point) in moved {
            overrides.set(landmark, scaled_point(point, per_detector));
        }
        Self {
            path,
            unit,
            overrides,
            per_detector,
        }
    }
}

/// Detector → tooth: everything about the origin times `factor`.
fn scaled_point(point: Point, factor: f64) -> Point {
    (point.to_vec2() * factor).to_point()
}
