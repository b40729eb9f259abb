//! The bends of one canal: the fitted path, refitted at every draw, and the
//! curvature methods on it.

use std::borrow::Cow;

use arrayvec::ArrayVec;
use kurbo::{Affine, Point, Vec2};

use super::settings::{MeasureSettings, Precision};
use crate::curvature::{
    self, Construction, Curvature, CurvatureLandmark, CurvatureSettings, Curve, LandmarkOverrides,
    PathUnit, curve_by_curve,
};
use crate::geometry::{
    Candidate, FitError, FitOptions, FormFit, MAX_ARCS, PathFit, StraightArcPath, fit_path,
};

/// Least standard deviation of a point the fit is told, as a share of the
/// path's chord: points without any noise still need a scale to be compared
/// on.
const LEAST_RELATIVE_SD: f64 = 1e-7;

/// A canal's fitted path at the best estimates, and what follows from it.
#[derive(Clone, Debug)]
pub struct BendModel {
    fit: PathFit,
    /// Standard deviation of one point, detector units.
    point_sd: f64,
    nominal_points: Vec<Point>,
    settings: CurvatureSettings,
    forms: Forms,
    /// Curves at the best estimates, coronal first.
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

/// The forms (structures of the fit) that may be the canal's.
///
/// The fit's choice between them is itself uncertain, so each draw takes one
/// of them, as often as its criterion makes it likely: exp(−Δ/2), the usual
/// weight of models compared by an information criterion. A straight form is
/// never drawn while a bent one fits: no canal is straight to the last digit,
/// and a straight draw would claim to know the angle exactly.
#[derive(Clone, Debug, Default)]
struct Forms {
    forms: Vec<Form>,
}

/// One of the [`Forms`].
#[derive(Clone, Debug)]
struct Form {
    fit: FormFit,
    /// Share of draws that take this form or one before it.
    reached: f64,
    /// Where the points would lie without noise: their feet on this form's
    /// path.
    feet: Vec<Point>,
}

impl Forms {
    /// Forms less likely than this share are left out.
    const LEAST_SHARE: f64 = 0.01;
    /// A refit whose χ² stays above the form's own by more than this has not
    /// found it: its path is not one the points speak for.
    const MOST_EXCESS: f64 = 4.0;

    /// The forms of a fit to `points` of standard deviation `point_sd`.
    fn new(fit: &PathFit, points: &[Point], point_sd: f64) -> Self {
        let usable = |c: &Candidate| c.structure.arc_count() > 0;
        let bent = || fit.candidates().iter().filter(|c| usable(c));
        let Some(best) = bent().map(|c| c.criterion).reduce(f64::min) else {
            return Self::default();
        };
        let weight = |c: &Candidate| (-0.5 * (c.criterion - best)).exp();
        let all: f64 = bent().map(weight).sum();
        let likely = bent().filter(|c| weight(c) >= Self::LEAST_SHARE * all);
        let mut forms: Vec<Form> = Vec::new();
        let mut sum = 0.0;
        for c in likely {
            let Ok(fit) = c.form().clone().refitted(points) else {
                continue;
            };
            let Ok(path) = fit.path() else { continue };
            let feet = feet(&path, points);
            let offsets = points.iter().zip(&feet);
            let squares: f64 = offsets.map(|(p, foot)| p.distance_squared(*foot)).sum();
            if squares / (point_sd * point_sd) > c.chi_square + Self::MOST_EXCESS {
                continue;
            }
            sum += weight(c);
            forms.push(Form {
                fit,
                reached: sum,
                feet,
            });
        }
        for form in &mut forms {
            form.reached /= sum;
        }
        Self { forms }
    }

    /// The form a draw takes; `None` for the fit's own choice.
    fn pick(&self, form: f64) -> Option<&Form> {
        if form == 0.0 {
            return None;
        }
        let found = self.forms.iter().find(|f| form.abs() <= f.reached);
        found.or(self.forms.last())
    }
}

/// The feet of a trace's points on its fitted path; ends on ends.
fn feet(path: &StraightArcPath, points: &[Point]) -> Vec<Point> {
    let last = points.len() - 1;
    let foot = |(index, point): (usize, &Point)| match index {
        0 => path.start(),
        _ if index == last => path.end(),
        _ => path.project(*point).foot,
    };
    points.iter().enumerate().map(foot).collect()
}

impl BendModel {
    /// Fits the path to points in the detector frame whose standard deviation
    /// is `click` in the same unit.
    ///
    /// # Errors
    /// [`FitError`] for fewer than four points, or when no fit could be had.
    pub fn fit(points: &[Point], click: f64, settings: &MeasureSettings) -> Result<Self, FitError> {
        let chord = match points {
            [first, .., last] => first.distance(*last),
            _ => 0.0,
        };
        let point_sd = click.max(LEAST_RELATIVE_SD * chord);
        let fit = fit_path(points, &FitOptions::new(point_sd))?;
        let length = fit.path().length();
        let found = curve_by_curve::curves(fit.path());
        let curves = found.iter().map(|c| Span::new(c, length)).collect();
        Ok(Self {
            // Forms other than the best are drawn, never the estimate.
            forms: match settings.precision {
                Precision::ValuesOnly => Forms::default(),
                Precision::Live | Precision::Full => Forms::new(&fit, points, point_sd),
            },
            curves,
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

    /// Everything about curvature at the best estimates. Lengths in mm, or in
    /// px where `tooth_per_detector` is NaN. `moved` are the landmarks the
    /// user has moved, detector frame.
    pub fn curvature(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Curvature {
        evaluate(self.fit.path(), tooth_per_detector, moved, &self.settings)
    }

    /// What each method draws at the best estimates, detector frame.
    /// Arguments as for [`BendModel::curvature`].
    pub fn constructions(
        &self,
        tooth_per_detector: f64,
        moved: &[(CurvatureLandmark, Point)],
    ) -> Vec<Construction> {
        let tooth = ToothFrame::of(self.fit.path(), tooth_per_detector, moved);
        let mut drawn = curvature::constructions(&tooth.path, tooth.unit, &tooth.overrides);
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

    /// Moves clicked `points` to where a draw sees them. A draw is made about
    /// the path, not about the clicks, which already lie off it by noise of
    /// their own: noise added twice would lengthen a path twice and bend it
    /// more than it may be bent. `form` is the input
    /// [`super::inputs::ScalarKind::CurveForm`]; at 0, the best estimates, all
    /// stays: `false`.
    pub fn project_onto_path(&self, form: f64, points: &mut [Point]) -> bool {
        let form = self.forms.pick(form);
        if let Some(form) = form {
            let offsets = form.feet.iter().zip(&self.nominal_points);
            for (point, (foot, clicked)) in points.iter_mut().zip(offsets) {
                *point += *foot - *clicked;
            }
        }
        form.is_some()
    }

    /// The fitted path for settled points; `None` where the refit fails.
    pub fn refit(&self, form: f64, points: &[Point]) -> Option<Cow<'_, StraightArcPath>> {
        let refitted = match self.forms.pick(form) {
            // Most inputs leave a canal's own points alone.
            None if points == self.nominal_points => return Some(Cow::Borrowed(self.fit.path())),
            None => self.fit.form().refit(points),
            Some(form) => form.fit.refit(points),
        };
        refitted.ok().map(Cow::Owned)
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
        let mut curvature = evaluate(path, tooth_per_detector, moved, &self.settings);
        let per_detector = if tooth_per_detector.is_nan() {
            1.0
        } else {
            tooth_per_detector
        };
        curvature.curves = self.counterparts(&curvature.curves, path.length() * per_detector);
        out.copy_from_slice(&curvature.numbers().values);
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

fn evaluate(
    path: &StraightArcPath,
    tooth_per_detector: f64,
    moved: &[(CurvatureLandmark, Point)],
    settings: &CurvatureSettings,
) -> Curvature {
    let tooth = ToothFrame::of(path, tooth_per_detector, moved);
    curvature::evaluate(&tooth.path, tooth.unit, &tooth.overrides, settings)
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
