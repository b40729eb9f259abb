//! The places the curvature methods are built on: found on the path, or moved
//! by the user.

use arrayvec::ArrayVec;
use kurbo::{Point, Vec2};

use super::curve_by_curve::Curve;
use super::measured::{Measured, Missing, Note, PathUnit};
use super::{axis_axis, estrela, luiten};
use crate::geometry::{Piece, StraightArcPath, unit};

/// A place some curvature method is built on. Each can be moved by the user.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CurvatureLandmark {
    /// A: coronal end of the path.
    Orifice,
    /// Coronal end of the straight piece before the curve: line 1 runs from
    /// here to the curve's start.
    AxisStart,
    /// B: where the (most apical) curve starts.
    CurveStart,
    /// Where it ends.
    CurveEnd,
    /// C: apical end of the path.
    ApicalEnd,
    /// Luiten's B, 2 mm from the orifice.
    LuitenAxis,
    /// Luiten's C, 1 mm from the apical end.
    LuitenApical,
    /// Coronal end of Estrela's coronal segment.
    EstrelaCoronal,
    /// Where Estrela's segments join: coronal end of the apical one.
    EstrelaJoint,
    /// Apical end of Estrela's coronal segment, when drawn off the joint.
    EstrelaJointCoronal,
    /// Apical end of Estrela's apical segment.
    EstrelaApical,
}

impl CurvatureLandmark {
    /// All landmarks.
    pub const ALL: [Self; 11] = [
        Self::Orifice,
        Self::AxisStart,
        Self::CurveStart,
        Self::CurveEnd,
        Self::ApicalEnd,
        Self::LuitenAxis,
        Self::LuitenApical,
        Self::EstrelaCoronal,
        Self::EstrelaJoint,
        Self::EstrelaJointCoronal,
        Self::EstrelaApical,
    ];

    /// Stable name, as in case files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Orifice => "orifice",
            Self::AxisStart => "axis_start",
            Self::CurveStart => "curve_start",
            Self::CurveEnd => "curve_end",
            Self::ApicalEnd => "apical_end",
            Self::LuitenAxis => "luiten_axis",
            Self::LuitenApical => "luiten_apical",
            Self::EstrelaCoronal => "estrela_coronal",
            Self::EstrelaJoint => "estrela_joint",
            Self::EstrelaJointCoronal => "estrela_joint_coronal",
            Self::EstrelaApical => "estrela_apical",
        }
    }

    /// The landmark of that [`CurvatureLandmark::name`].
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|landmark| landmark.name() == name)
    }
}

/// A place for each landmark that has one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ConstructionLandmarks {
    points: [Option<Point>; CurvatureLandmark::ALL.len()],
}

impl ConstructionLandmarks {
    /// Where `landmark` stands.
    pub fn get(&self, landmark: CurvatureLandmark) -> Option<Point> {
        self.points[landmark as usize]
    }

    /// All landmarks with a place.
    pub fn iter(&self) -> impl Iterator<Item = (CurvatureLandmark, Point)> {
        CurvatureLandmark::ALL
            .into_iter()
            .filter_map(|landmark| Some((landmark, self.get(landmark)?)))
    }

    fn put(&mut self, landmark: CurvatureLandmark, point: Point) -> Point {
        *self.points[landmark as usize].insert(point)
    }
}

/// Landmarks the user has moved, in the path's frame; they win over the
/// automatic ones.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LandmarkOverrides(ConstructionLandmarks);

impl LandmarkOverrides {
    /// None moved.
    pub fn none() -> Self {
        Self::default()
    }

    /// Sets `landmark` to `point`; places that are not finite are ignored.
    pub fn set(&mut self, landmark: CurvatureLandmark, point: Point) {
        if point.is_finite() {
            self.0.put(landmark, point);
        }
    }

    /// Where the user has put `landmark`.
    pub fn get(&self, landmark: CurvatureLandmark) -> Option<Point> {
        self.0.get(landmark)
    }

    /// None moved.
    pub fn is_empty(&self) -> bool {
        self.0.iter().next().is_none()
    }
}

/// Everything the methods need to know of one path.
pub(super) struct MethodInputs {
    /// Unit direction of line 1, apically.
    pub coronal_axis: Vec2,
    /// Unit direction at (or behind) the curve's end, apically.
    pub apical_axis: Vec2,
    /// Least-squares axis of the apical segment, apically.
    pub apical_segment_axis: Vec2,
    pub orifice: Point,
    pub apical_end: Point,
    pub luiten: Result<luiten::Lines, Missing>,
    pub estrela: Result<estrela::Segments, Missing>,
    pub landmarks: ConstructionLandmarks,
    pub notes: ArrayVec<Note, 2>,
}

impl MethodInputs {
    pub fn new(
        path: &StraightArcPath,
        unit: PathUnit,
        curves: &[Curve],
        overrides: &LandmarkOverrides,
    ) -> Self {
        let mut landmarks = ConstructionLandmarks::default();
        let mut notes = ArrayVec::new();
        let mut settle = |landmark, automatic| {
            landmarks.put(landmark, overrides.get(landmark).unwrap_or(automatic))
        };
        let orifice = settle(CurvatureLandmark::Orifice, path.start());
        let apical_end = settle(CurvatureLandmark::ApicalEnd, path.end());

        let straight = StraightAndCurve::find(path, curves.last());
        let mut coronal_axis = straight.coronal_direction;
        let mut apical_axis = straight.apical_direction;
        let mut apical_segment_axis = straight.apical_segment_axis;
        let moved = |landmarks: &[CurvatureLandmark]| {
            landmarks
                .iter()
                .any(|&landmark| overrides.get(landmark).is_some())
        };
        let curve_start = straight
            .curve_start
            .or(overrides.get(CurvatureLandmark::CurveStart));
        if let Some(automatic) = curve_start {
            let axis_start = straight.axis_start.unwrap_or(orifice);
            let axis_start = settle(CurvatureLandmark::AxisStart, axis_start);
            let curve_start = settle(CurvatureLandmark::CurveStart, automatic);
            let curve_end = straight.curve_end.unwrap_or(curve_start);
            let curve_end = settle(CurvatureLandmark::CurveEnd, curve_end);
            // Points give a direction only where the user has a hand in them:
            // on a short piece the path's own is the better one.
            let axis_moved = [
                CurvatureLandmark::Orifice,
                CurvatureLandmark::AxisStart,
                CurvatureLandmark::CurveStart,
            ];
            if moved(&axis_moved) {
                coronal_axis = direction(axis_start, curve_start).unwrap_or(coronal_axis);
            }
            if moved(&[CurvatureLandmark::CurveEnd, CurvatureLandmark::ApicalEnd]) {
                apical_axis = direction(curve_end, apical_end).unwrap_or(apical_axis);
                apical_segment_axis = apical_axis;
            }
        }
        match (curves, straight.has_coronal_piece) {
            ([], _) => notes.push(Note::NoCurve),
            (_, false) => notes.push(Note::NoStraightCoronalPiece),
            _ => {}
        }
        if curves.len() > 1 {
            notes.push(Note::OtherCurves {
                others: curves.len() - 1,
            });
        }

        let length_mm = path.length();
        let luiten = (|| {
            let automatic = |landmark, at: f64| match (overrides.get(landmark), unit) {
                (Some(point), _) => Ok(point),
                (None, PathUnit::Pixel) => Err(Missing::NoScale),
                (None, PathUnit::Millimetre) if length_mm < luiten::NEEDED_MM => {
                    Err(Missing::TooShort {
                        needed_mm: luiten::NEEDED_MM,
                        length_mm,
                    })
                }
                (None, PathUnit::Millimetre) => Ok(path.point_at_length(at)),
            };
            let axis = automatic(CurvatureLandmark::LuitenAxis, luiten::AXIS_MM)?;
            let apical = automatic(
                CurvatureLandmark::LuitenApical,
                length_mm - luiten::APICAL_MM,
            )?;
            Ok(luiten::Lines {
                orifice,
                axis,
                apical,
                apical_end,
            })
        })();
        if let Ok(lines) = &luiten {
            landmarks.put(CurvatureLandmark::LuitenAxis, lines.axis);
            landmarks.put(CurvatureLandmark::LuitenApical, lines.apical);
        }

        let estrela = estrela_segments(path, unit, apical_end, overrides);
        if let Ok(segments) = &estrela {
            landmarks.put(CurvatureLandmark::EstrelaCoronal, segments.coronal[0]);
            landmarks.put(CurvatureLandmark::EstrelaJointCoronal, segments.coronal[1]);
            landmarks.put(CurvatureLandmark::EstrelaJoint, segments.apical[0]);
            landmarks.put(CurvatureLandmark::EstrelaApical, segments.apical[1]);
        }
        Self {
            coronal_axis,
            apical_axis,
            apical_segment_axis,
            orifice,
            apical_end,
            luiten,
            estrela,
            landmarks,
            notes,
        }
    }

    /// The angle `measure` gives, or zero on a path without a curve.
    pub fn or_straight(&self, measure: impl FnOnce() -> Measured) -> Measured {
        if self.landmarks.get(CurvatureLandmark::CurveStart).is_some() {
            measure()
        } else {
            Ok(0.0)
        }
    }
}

/// The most apical curve with the straight pieces around it.
struct StraightAndCurve {
    coronal_direction: Vec2,
    apical_direction: Vec2,
    apical_segment_axis: Vec2,
    /// Start of the straight piece before the curve; `None` when that is the
    /// orifice.
    axis_start: Option<Point>,
    curve_start: Option<Point>,
    curve_end: Option<Point>,
    has_coronal_piece: bool,
}

impl StraightAndCurve {
    fn find(path: &StraightArcPath, curve: Option<&Curve>) -> Self {
        let (poses, pieces) = (path.poses(), path.pieces());
        let Some(curve) = curve else {
            let direction = poses[0].direction;
            return Self {
                coronal_direction: direction,
                apical_direction: direction,
                apical_segment_axis: direction,
                axis_start: None,
                curve_start: None,
                curve_end: None,
                has_coronal_piece: true,
            };
        };
        let [first, last] = curve.pieces;
        let is_straight =
            |index: usize| matches!(pieces[index], Piece::Straight { length } if length > 0.0);
        let straight_before = first.checked_sub(1).filter(|&index| is_straight(index));
        // Without a straight piece the axis is the tangent where the curve
        // starts, and so a line without length.
        let axis_start = straight_before.unwrap_or(first);
        Self {
            coronal_direction: poses[first].direction,
            apical_direction: poses[last + 1].direction,
            apical_segment_axis: axis_axis::apical_axis(path, curve),
            axis_start: (axis_start > 0).then(|| poses[axis_start].point),
            curve_start: Some(poses[first].point),
            curve_end: Some(poses[last + 1].point),
            has_coronal_piece: is_straight(0),
        }
    }
}

fn direction(from: Point, to: Point) -> Option<Vec2> {
    let direction = unit(to - from);
    (direction.hypot2() > 0.0).then_some(direction)
}

/// Estrela's segments: the 6 mm chord that ends at the apical end and the 6 mm
/// chord that joins it coronally, unless the user has moved them.
fn estrela_segments(
    path: &StraightArcPath,
    unit: PathUnit,
    apical_end: Point,
    overrides: &LandmarkOverrides,
) -> Result<estrela::Segments, Missing> {
    let apical = overrides
        .get(CurvatureLandmark::EstrelaApical)
        .unwrap_or(apical_end);
    let joint = overrides.get(CurvatureLandmark::EstrelaJoint);
    let coronal = overrides.get(CurvatureLandmark::EstrelaCoronal);
    let (joint, coronal) = match (joint, coronal) {
        (Some(joint), Some(coronal)) => (joint, coronal),
        _ if unit == PathUnit::Pixel => return Err(Missing::NoScale),
        _ => {
            let joint_at = match joint {
                Some(joint) => path.project(joint).length_at,
                None => chord_start(path, path.length(), estrela::SEGMENT_MM),
            };
            let coronal_at = chord_start(path, joint_at, estrela::SEGMENT_MM);
            let length_mm = path.length();
            if coronal.is_none() && coronal_at < -1e-9 * length_mm {
                return Err(Missing::TooShort {
                    needed_mm: length_mm - coronal_at,
                    length_mm,
                });
            }
            let joint = joint.unwrap_or_else(|| path.point_at_length(joint_at));
            (
                joint,
                coronal.unwrap_or_else(|| path.point_at_length(coronal_at)),
            )
        }
    };
    let coronal_joint = overrides
        .get(CurvatureLandmark::EstrelaJointCoronal)
        .unwrap_or(joint);
    Ok(estrela::Segments {
        coronal: [coronal, coronal_joint],
        apical: [joint, apical],
    })
}

/// Length at which the chord of length `chord` starts that ends at length
/// `end`; the path runs straight on before its start, so there always is one.
fn chord_start(path: &StraightArcPath, end: f64, chord: f64) -> f64 {
    let target = path.point_at_length(end);
    let mut back = chord;
    for _ in 0..30 {
        let pose = path.pose_at_length(end - back);
        let span = target - pose.point;
        let missing = chord - span.hypot();
        // How fast the chord grows per length of path, kept clear of zero.
        let rate = (span.dot(pose.direction) / span.hypot()).max(0.2);
        back += missing / rate;
        if missing.abs() <= 1e-12 * chord {
            break;
        }
    }
    end - back
}
