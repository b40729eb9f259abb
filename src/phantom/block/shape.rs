//! The canal of a block before and after, in closed form.

use kurbo::{Point, Vec2};
use serde::Serialize;

use super::spec::{BlockGeometry, BlockSpec, MARKS_MM, ShapingKind};
use crate::geometry::{Piece, StraightArcPath, right_of};

/// Where the canal begins on the face, mm.
const ORIFICE_MM: Point = Point::new(6.0, 5.0);

/// Where a ledge stops the preparation, mm from the end.
const LEDGE_AT_MM: f64 = 3.0;

/// Distance of the outline from the centre line, mm.
const OUTLINE_MM: f64 = 0.9;

/// What one level truly shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LevelTruth {
    pub from_end_mm: f64,
    pub width_before_mm: f64,
    pub width_after_mm: f64,
    pub removed_left_mm: f64,
    pub removed_right_mm: f64,
    pub transport_mm: f64,
}

/// A block in closed form.
#[derive(Clone, Debug)]
pub struct BlockTruth {
    spec: BlockSpec,
    path: StraightArcPath,
}

impl BlockTruth {
    /// The truth of a block.
    pub fn new(spec: &BlockSpec) -> Self {
        let straight = |length: f64| Piece::Straight { length };
        let arc = |degrees: f64, radius: f64| Piece::Arc {
            length: degrees.to_radians().abs() * radius,
            turn_rad: degrees.to_radians(),
        };
        let pieces = match spec.geometry {
            BlockGeometry::Recurved => vec![
                straight(7.0),
                arc(-30.0, 6.0),
                straight(0.5),
                arc(35.0, 5.0),
                straight(1.5),
            ],
            BlockGeometry::SShaped => vec![
                straight(8.0),
                arc(-30.0, 5.0),
                straight(0.5),
                arc(20.0, 4.5),
                straight(3.0),
            ],
            BlockGeometry::Hooked => vec![straight(10.0), arc(60.0, 4.5), straight(1.5)],
            BlockGeometry::LongCurve => vec![straight(5.0), arc(40.0, 12.0), straight(2.0)],
        };
        let down = std::f64::consts::FRAC_PI_2;
        let path = StraightArcPath::new(ORIFICE_MM, down, &pieces);
        Self {
            spec: spec.clone(),
            path: path.expect("the pieces of both geometries are valid"),
        }
    }

    /// The centre line before.
    pub fn path(&self) -> &StraightArcPath {
        &self.path
    }

    /// The description it was made from.
    pub fn spec(&self) -> &BlockSpec {
        &self.spec
    }

    /// Length that was prepared ends this far short of the canal's end, mm.
    pub fn short_mm(&self) -> f64 {
        match self.spec.shaping {
            ShapingKind::Ledge => LEDGE_AT_MM,
            _ => 0.0,
        }
    }

    /// Half the width before, mm: 0.15 mm wide at the end, tapering by 2 %.
    fn half_before(from_end_mm: f64) -> f64 {
        0.5 * (0.15 + 0.02 * from_end_mm)
    }

    /// Offsets of the walls before: left, right; right positive.
    pub fn before(&self, from_end_mm: f64) -> [f64; 2] {
        let half = Self::half_before(from_end_mm);
        [-half, half]
    }

    /// Offsets of the walls after: canal and preparation joined.
    pub fn after(&self, from_end_mm: f64) -> [f64; 2] {
        let s = from_end_mm;
        let half = Self::half_before(s);
        let (mut prepared, mut centre) = (half + self.spec.widened_mm, 0.0);
        // The apical curve bends clockwise, to the right: its outer side is the
        // left one.
        let apical = (-(s / 4.0).powi(2)).exp();
        let coronal = (-((s - 8.0) / 2.5).powi(2)).exp();
        let moved = self.spec.moved_mm;
        match self.spec.shaping {
            ShapingKind::Centred => {}
            // Outwards apically, inwards at the coronal curve, whose inner side
            // is the left one too.
            ShapingKind::Outer => centre = -moved * apical - 0.5 * moved * coronal,
            ShapingKind::Inner => centre = moved * apical,
            ShapingKind::Zip => {
                let torn = 0.12 * (-(s / 1.2).powi(2)).exp();
                prepared += torn;
                centre = -torn - 0.3 * moved * apical;
            }
            ShapingKind::Ledge => {
                if s < LEDGE_AT_MM {
                    return [-half, half];
                }
                centre = -0.15 * (-((s - LEDGE_AT_MM) / 1.5).powi(2)).exp();
            }
            ShapingKind::Perforation => {
                let through = 0.45 * coronal;
                prepared += through;
                centre = -through;
            }
        }
        [
            (centre - prepared).min(-half),
            (centre + prepared).max(half),
        ]
    }

    /// Offsets of the walls, `after` or before.
    pub fn walls(&self, after: bool, from_end_mm: f64) -> [f64; 2] {
        match after {
            true => self.after(from_end_mm),
            false => self.before(from_end_mm),
        }
    }

    /// Offsets of the root's outline.
    pub fn outline(&self) -> [f64; 2] {
        [-OUTLINE_MM, OUTLINE_MM]
    }

    /// The truth at a level.
    pub fn level(&self, from_end_mm: f64) -> LevelTruth {
        let (before, after) = (self.before(from_end_mm), self.after(from_end_mm));
        let (left, right) = (before[0] - after[0], after[1] - before[1]);
        LevelTruth {
            from_end_mm,
            width_before_mm: before[1] - before[0],
            width_after_mm: after[1] - after[0],
            removed_left_mm: left,
            removed_right_mm: right,
            transport_mm: left - right,
        }
    }

    /// A place beside the centre line, block frame, mm.
    pub fn place(&self, from_end_mm: f64, offset_mm: f64) -> Point {
        let pose = self.path.pose_at_length(self.path.length() - from_end_mm);
        pose.point + right_of(pose.direction) * offset_mm
    }

    /// Unit direction to the right of the centre line.
    pub fn right(&self, from_end_mm: f64) -> Vec2 {
        right_of(
            self.path
                .pose_at_length(self.path.length() - from_end_mm)
                .direction,
        )
    }

    /// The marks on the face, mm.
    pub fn marks(&self) -> [Point; 4] {
        MARKS_MM.map(|[x, y]| Point::new(x, y))
    }
}
