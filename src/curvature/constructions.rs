//! What each method draws on the film.

use kurbo::{Circle, Line, Point};

use super::landmarks::MethodInputs;
use super::{
    CurvatureLandmark, Curve, LandmarkOverrides, Method, Missing, PathUnit, curve_by_curve,
    estrela, gunday, pruett, schafer, schneider,
};
use crate::geometry::StraightArcPath;

/// The drawing of one method, in the frame of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct Construction {
    /// The method.
    pub method: Method,
    /// Lines in the order the method draws them.
    pub lines: Vec<Line>,
    /// Circles, where the method has one.
    pub circles: Vec<Circle>,
    /// The places it stands on; each can be dragged.
    pub points: Vec<(CurvatureLandmark, Point)>,
    /// Why the method gives no drawing.
    pub missing: Option<Missing>,
}

/// The drawings of all methods on `path`.
pub fn constructions(
    path: &StraightArcPath,
    unit: PathUnit,
    overrides: &LandmarkOverrides,
) -> Vec<Construction> {
    constructions_listed(path, unit, overrides, |_| true)
}

/// The same, of the curve that [`super::evaluate_listed`] measures.
pub fn constructions_listed(
    path: &StraightArcPath,
    unit: PathUnit,
    overrides: &LandmarkOverrides,
    is_listed: impl Fn(&Curve) -> bool,
) -> Vec<Construction> {
    let listed = super::listed_or_all(&curve_by_curve::curves(path), is_listed);
    let placement = MethodInputs::new(path, unit, &listed, overrides);
    let draw = |method: Method| {
        let (lines, circles, missing) = match drawing(method, &placement) {
            Ok((lines, circles)) => (lines, circles, None),
            Err(missing) => (Vec::new(), Vec::new(), Some(missing)),
        };
        let placed =
            |&landmark: &CurvatureLandmark| Some((landmark, placement.landmarks.get(landmark)?));
        let points = method.landmarks().iter().filter_map(placed).collect();
        Construction {
            method,
            lines,
            circles,
            points,
            missing,
        }
    };
    Method::ALL.map(draw).into()
}

fn drawing(method: Method, placement: &MethodInputs) -> Result<(Vec<Line>, Vec<Circle>), Missing> {
    let place = |landmark| placement.landmarks.get(landmark).ok_or(Missing::NoCurve);
    let (a, c) = (placement.orifice, placement.apical_end);
    let axis = placement.coronal_axis;
    // Line 1 runs past the curve's start, so that the angle can be seen.
    let line_1 = || {
        let (from, b) = (
            place(CurvatureLandmark::AxisStart)?,
            place(CurvatureLandmark::CurveStart)?,
        );
        Ok(Line::new(from, b + axis * b.distance(c)))
    };
    let apical_line = || {
        let b = place(CurvatureLandmark::CurveEnd)?;
        let reach = place(CurvatureLandmark::CurveStart)?.distance(b);
        Ok(Line::new(b - placement.apical_axis * reach, c))
    };
    Ok(match method {
        Method::Schneider => (
            vec![
                line_1()?,
                Line::new(place(CurvatureLandmark::CurveStart)?, c),
            ],
            vec![],
        ),
        Method::Weine => (vec![line_1()?, apical_line()?], vec![]),
        Method::AxisAxis => {
            let b = place(CurvatureLandmark::CurveStart)?;
            let back = placement.apical_segment_axis * b.distance(c);
            (vec![line_1()?, Line::new(c - back, c)], vec![])
        }
        Method::Pruett => {
            let (start, end) = (
                place(CurvatureLandmark::CurveStart)?,
                place(CurvatureLandmark::CurveEnd)?,
            );
            let circle = pruett::circle((start, axis), (end, placement.apical_axis))?;
            let lines = vec![
                Line::new(place(CurvatureLandmark::AxisStart)?, circle.crossing),
                Line::new(circle.crossing, c),
                Line::new(circle.centre, start),
                Line::new(circle.centre, end),
            ];
            (lines, vec![Circle::new(circle.centre, circle.radius)])
        }
        Method::Luiten => {
            let lines = placement.luiten?;
            let drawn = [
                (lines.orifice, lines.axis),
                (lines.apical, lines.apical_end),
            ];
            (drawn.map(|(from, to)| Line::new(from, to)).into(), vec![])
        }
        Method::Schafer => {
            let b = place(CurvatureLandmark::CurveStart)?;
            let arc = schafer::arc(b.distance(c), schneider::angle_rad(axis, b, c)?)?;
            let normal = kurbo::Vec2::new(-axis.y, axis.x);
            let towards = normal * axis.cross(c - b).signum();
            let centre = b + towards * arc.radius;
            (
                vec![line_1()?, Line::new(b, c)],
                vec![Circle::new(centre, arc.radius)],
            )
        }
        Method::Gunday => {
            let b = place(CurvatureLandmark::CurveStart)?;
            let height = gunday::height(a, b, c)?;
            (
                vec![line_1()?, Line::new(a, c), Line::new(b, height.foot)],
                vec![],
            )
        }
        Method::Estrela => {
            let segments = placement.estrela?;
            let circle = estrela::circle(&segments)?;
            let mut lines = Vec::new();
            for [from, to] in [segments.coronal, segments.apical] {
                lines.push(Line::new(from, to));
                lines.push(Line::new(circle.centre, from.midpoint(to)));
            }
            (lines, vec![Circle::new(circle.centre, circle.radius())])
        }
    })
}
