//! The bends of one canal: the fitted path, refitted at every draw, and the
//! curvature methods on it.

use kurbo::{Affine, Point, Vec2};

use super::settings::Settings;
use crate::curvature::{
    self, Construction, Curvature, CurvatureQuantity, CurvatureSettings, Landmark,
    LandmarkOverrides, PathUnit,
};
use crate::geometry::{FitError, FitOptions, PathFit, Piece, StraightArcPath, fit_path};

/// Outputs of one canal's bends, in the order of [`CurvatureQuantity`].
pub const BEND_OUTPUTS: usize = CurvatureQuantity::COUNT;

/// Least standard deviation of a point the fit is told, as a share of the
/// path's chord: points without any noise still need a scale to be compared
/// on.
const LEAST_RELATIVE_SD: f64 = 1e-7;

/// A canal's fitted path at the best estimates, and what follows from it.
#[derive(Clone, Debug)]
pub struct BendModel {
    fit: PathFit,
    nominal_points: Vec<Point>,
    settings: CurvatureSettings,
}

impl BendModel {
    /// Fits the path to points in the detector frame whose standard deviation
    /// is `click` in the same unit.
    ///
    /// # Errors
    /// [`FitError`] for fewer than four points, or when no fit converged.
    pub fn fit(points: &[Point], click: f64, settings: &Settings) -> Result<Self, FitError> {
        let chord = match points {
            [first, .., last] => first.distance(*last),
            _ => 0.0,
        };
        let point_sd = click.max(LEAST_RELATIVE_SD * chord);
        Ok(Self {
            fit: fit_path(points, &FitOptions::new(point_sd))?,
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

    /// Direction in which the fitted path ends.
    pub fn end_direction(&self) -> Vec2 {
        end_direction(self.fit.path())
    }

    /// The fitted path as the curvature methods see it: in mm of the tooth
    /// frame, in px where `tooth_per_detector` is NaN, with its unit and the
    /// factor from the detector frame.
    pub fn measured_path(&self, tooth_per_detector: f64) -> (StraightArcPath, PathUnit, f64) {
        match scaled(self.fit.path(), tooth_per_detector) {
            Some(path) if !tooth_per_detector.is_nan() => {
                (path, PathUnit::Millimetre, tooth_per_detector)
            }
            _ => (self.fit.path().clone(), PathUnit::Pixel, 1.0),
        }
    }

    /// Everything about curvature at the best estimates. Lengths in mm, or in
    /// px where `tooth_per_detector` is NaN. `moved` are the landmarks the
    /// user has moved, detector frame.
    pub fn curvature(&self, tooth_per_detector: f64, moved: &[(Landmark, Point)]) -> Curvature {
        evaluate(self.fit.path(), tooth_per_detector, moved, &self.settings)
    }

    /// What each method draws at the best estimates, detector frame.
    /// Arguments as for [`BendModel::curvature`].
    pub fn constructions(
        &self,
        tooth_per_detector: f64,
        moved: &[(Landmark, Point)],
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

    /// The bend outputs for points near the best estimates, and the direction
    /// in which the path ends; NaN and `None` where the refit fails.
    pub fn evaluate(
        &self,
        points: &[Point],
        tooth_per_detector: f64,
        moved: &[(Landmark, Point)],
        out: &mut [f64],
    ) -> Option<Vec2> {
        // Most inputs leave a canal's own points alone.
        let refitted;
        let path = if points == self.nominal_points {
            self.fit.path()
        } else {
            refitted = self.fit.refit(points).ok()?;
            &refitted
        };
        let curvature = evaluate(path, tooth_per_detector, moved, &self.settings);
        out.copy_from_slice(&curvature.numbers().values);
        Some(end_direction(path))
    }
}

fn end_direction(path: &StraightArcPath) -> Vec2 {
    path.pose_at_length(path.length()).direction
}

fn evaluate(
    path: &StraightArcPath,
    tooth_per_detector: f64,
    moved: &[(Landmark, Point)],
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
    fn of(path: &StraightArcPath, tooth_per_detector: f64, moved: &[(Landmark, Point)]) -> Self {
        let in_mm = scaled(path, tooth_per_detector)
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

fn scaled(path: &StraightArcPath, factor: f64) -> Option<StraightArcPath> {
    let mut pieces = [Piece::Straight { length: 0.0 }; crate::geometry::MAX_PIECES];
    let count = path.pieces().len();
    for (to, from) in pieces.iter_mut().zip(path.pieces()) {
        *to = match *from {
            Piece::Straight { length } => Piece::Straight {
                length: length * factor,
            },
            Piece::Arc { length, turn_rad } => Piece::Arc {
                length: length * factor,
                turn_rad,
            },
        };
    }
    let start = scaled_point(path.start(), factor);
    StraightArcPath::new(start, path.heading_rad(), &pieces[..count]).ok()
}
