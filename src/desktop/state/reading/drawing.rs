//! From the measurement model to lines on the film.

use kurbo::Point;

use crate::calibration::DetectorFrame;
use crate::case::Case;
use crate::case::edit::file_object_index;
use crate::curvature::profile::CurvatureProfile;
use crate::curvature::{Construction, CurvatureLandmark, Method};
use crate::geometry::DrawnCurve;
use crate::measure::Model;
use crate::measure::findings::Findings;
use crate::units::FilmPoint;

/// A stroke of a construction, in the film frame.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// A line through points.
    Line(Vec<FilmPoint>),
    /// A place the construction stands on, which the user may drag.
    Point {
        at: FilmPoint,
        landmark: CurvatureLandmark,
    },
}

/// A place on a canal's path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathSample {
    pub at: FilmPoint,
    /// Along the path; `None` without a scale.
    pub from_apex_mm: Option<f64>,
}

/// A place of the curvature graph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfileSample {
    pub from_apex_mm: f64,
    /// Curvature, ° per mm, and its 95 % band.
    pub curvature_deg_per_mm: f64,
    pub low_deg_per_mm: f64,
    pub high_deg_per_mm: f64,
}

/// What is to be drawn of one canal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CanalDrawing {
    /// Drawn curve, orifice → apex.
    pub path: Vec<PathSample>,
    /// The file's line, stop → tip: straight between its clicks.
    pub file: Vec<FilmPoint>,
    /// Fitted curve that angles are read from.
    pub fitted: Vec<FilmPoint>,
    pub constructions: Vec<(Method, Vec<Mark>)>,
    pub profile: Vec<ProfileSample>,
}

/// Samples along a drawn line: finer than the screen on any film that fits
/// it, coarse enough to be drawn sixty times a second.
const LINE_SAMPLES: usize = 240;
/// Samples of the curvature graph.
const PROFILE_SAMPLES: f64 = 160.0;
/// Draws for the graph's band.
const PROFILE_DRAWS: usize = 120;
/// Points on a construction's circle.
const CIRCLE_POINTS: usize = 96;

/// What is to be drawn of a canal of a complete case.
pub fn of_canal(case: &Case, canal: usize, model: &Model, findings: &Findings) -> CanalDrawing {
    let content = &case.canals[canal];
    let frame = &model.frame;
    let tooth_per_detector = model.nominal_tooth_per_detector().unwrap_or(f64::NAN);
    let has_scale = findings.scale.mm_per_px.is_some() && tooth_per_detector.is_finite();
    // Straight between its clicks: a spline through three would leave the file.
    let file = file_object_index(case, canal)
        .map(|object| case.scale.objects[object].points_px.clone())
        .filter(|points| points.len() > 1);
    let path = curve_through(&content.trace_px, frame).map(|curve| {
        let length = curve.length();
        let sample = |(at, length_at): (FilmPoint, f64)| PathSample {
            at,
            from_apex_mm: has_scale.then_some((length - length_at) * tooth_per_detector),
        };
        samples_of(&curve, frame).map(sample).collect()
    });
    let mut drawing = CanalDrawing {
        path: path.unwrap_or_default(),
        file: file.unwrap_or_default(),
        ..CanalDrawing::default()
    };
    let Ok(bends) = model.bends(canal) else {
        return drawing;
    };
    let fit = bends.path_fit();
    let fitted = fit.path();
    drawing.fitted = (0..=LINE_SAMPLES)
        .map(|i| fitted.point_at_length(fitted.length() * i as f64 / LINE_SAMPLES as f64))
        .map(|point| frame.film_from_detector(point))
        .collect();
    if has_scale {
        let step = fitted.length() / PROFILE_SAMPLES;
        let profile = CurvatureProfile::of(fit, step, PROFILE_DRAWS, case.seed);
        let k = tooth_per_detector;
        drawing.profile = profile
            .samples
            .iter()
            .map(|sample| ProfileSample {
                from_apex_mm: sample.from_apex * k,
                curvature_deg_per_mm: (sample.curvature / k).to_degrees(),
                low_deg_per_mm: (sample.low / k).to_degrees(),
                high_deg_per_mm: (sample.high / k).to_degrees(),
            })
            .collect();
    }
    let constructions = model.constructions(canal).unwrap_or_default();
    let film_from_detector = |point: Point| frame.film_from_detector(point);
    drawing.constructions = constructions
        .iter()
        .map(|construction| (construction.method, marks(construction, film_from_detector)))
        .collect();
    drawing
}

fn marks(
    construction: &Construction,
    film_from_detector: impl Fn(Point) -> FilmPoint,
) -> Vec<Mark> {
    let lines = construction.lines.iter().map(|line| {
        Mark::Line(vec![
            film_from_detector(line.p0),
            film_from_detector(line.p1),
        ])
    });
    let circles = construction.circles.iter().map(|circle| {
        let on_circle = |i: usize| {
            let turn = i as f64 / CIRCLE_POINTS as f64 * std::f64::consts::TAU;
            film_from_detector(circle.center + kurbo::Vec2::from_angle(turn) * circle.radius)
        };
        Mark::Line((0..=CIRCLE_POINTS).map(on_circle).collect())
    });
    let points = construction
        .points
        .iter()
        .map(|(landmark, point)| Mark::Point {
            at: film_from_detector(*point),
            landmark: *landmark,
        });
    lines.chain(circles).chain(points).collect()
}

fn curve_through(points_px: &[FilmPoint], frame: &DetectorFrame) -> Option<DrawnCurve> {
    let points: Vec<Point> = points_px
        .iter()
        .map(|p| frame.detector_from_film(*p))
        .collect();
    DrawnCurve::through(&points).ok()
}

/// Film points along a curve with their length from its start.
fn samples_of<'a>(
    curve: &'a DrawnCurve,
    frame: &'a DetectorFrame,
) -> impl Iterator<Item = (FilmPoint, f64)> + 'a {
    (0..=LINE_SAMPLES).map(move |i| {
        let length_at = curve.length() * i as f64 / LINE_SAMPLES as f64;
        (
            frame.film_from_detector(curve.point_at_length(length_at)),
            length_at,
        )
    })
}
