//! The canal's width level by level, from its two walls.

use kurbo::{PathEl, Point, Vec2, flatten};
use thiserror::Error;

use super::{DrawnCurve, StraightArcPath, right_of};

/// Levels are this far apart, mm.
const STEP_MM: f64 = 0.1;
/// Levels nearer to each other than this are one, mm.
const SAME_LEVEL_MM: f64 = 1e-6;
/// Straight pieces of a wall stay within this of its curve, mm.
const FLATNESS_MM: f64 = 0.002;
/// Walls are looked for this far on each side of the path, mm: half the widest
/// root (our choice).
const REACH_MM: f64 = 4.0;
/// Fewest levels that make a profile.
const FEWEST_LEVELS: usize = 2;

/// Why walls give no widths; one clear line each.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum WidthError {
    /// A wall that is no line.
    #[error("the {side} wall is no line: trace it again with two or more points")]
    NoLine { side: &'static str },
    /// The walls change sides.
    #[error(
        "the walls cross {from_apex_mm:.1} mm from the apex: trace them again, each on its own side"
    )]
    Crossing { from_apex_mm: f64 },
    /// Left and right exchanged.
    #[error("left and right wall are exchanged (as seen from the orifice): exchange them")]
    Exchanged,
    /// The walls are not beside the canal.
    #[error("the walls do not lie beside the canal's trace: trace both along the canal")]
    NotBeside,
    /// Widths that are none.
    #[error("widths: give two or more, each farther from the canal's end, none below 0")]
    Samples,
}

/// Width against the distance from the canal's end.
#[derive(Clone, Debug, PartialEq)]
pub struct WidthProfile {
    /// `[from the end, width]`, mm, ascending; straight between.
    samples: Vec<[f64; 2]>,
}

impl WidthProfile {
    /// Widths at stated places `[from the canal's end, width]`, mm.
    ///
    /// # Errors
    /// [`WidthError::Samples`].
    pub fn new(samples: Vec<[f64; 2]>) -> Result<Self, WidthError> {
        let ascending = samples.windows(2).all(|pair| pair[0][0] < pair[1][0]);
        let usable = samples
            .iter()
            .all(|[s, width]| s.is_finite() && (0.0..1e3).contains(width));
        if ascending && usable && samples.len() >= FEWEST_LEVELS {
            Ok(Self { samples })
        } else {
            Err(WidthError::Samples)
        }
    }

    /// `[from the end, width]`, mm, ascending.
    pub fn samples_mm(&self) -> &[[f64; 2]] {
        &self.samples
    }

    /// The same widths at distances from the end `factor` times as great; `None`
    /// where that makes no profile.
    pub fn stretched(mut self, factor: f64) -> Option<Self> {
        for sample in &mut self.samples {
            sample[0] *= factor;
        }
        (factor.is_finite() && factor > 0.0).then_some(self)
    }

    /// Width at a place, mm; `None` beyond the profile.
    pub fn width_mm(&self, from_end_mm: f64) -> Option<f64> {
        let pair = self
            .samples
            .windows(2)
            .find(|pair| (pair[0][0]..=pair[1][0]).contains(&from_end_mm))?;
        let share = (from_end_mm - pair[0][0]) / (pair[1][0] - pair[0][0]);
        Some(pair[0][1] + share * (pair[1][1] - pair[0][1]))
    }

    /// Widths between two walls (mm, tooth frame, orifice → apex) along
    /// sections normal to `path`, counted from `apex_at_mm` along it: at even
    /// levels and where the shorter wall ends. Levels that a wall does not reach
    /// are left out.
    ///
    /// # Errors
    /// [`WidthError`].
    pub fn between_walls(
        path: &StraightArcPath,
        apex_at_mm: f64,
        left: &[Point],
        right: &[Point],
    ) -> Result<Self, WidthError> {
        let walls = [("left", left), ("right", right)]
            .map(|(side, points)| polyline(points).ok_or(WidthError::NoLine { side }));
        let [left, right] = walls;
        let (left, right) = (left?, right?);
        let levels = levels(path, apex_at_mm, [&left, &right]);
        let mut samples = Vec::new();
        let (mut in_order, mut exchanged) = (0usize, 0usize);
        let mut first_exchanged_mm = None;
        for from_apex_mm in levels {
            let pose = path.pose_at_length(apex_at_mm - from_apex_mm);
            let across = right_of(pose.direction);
            let offsets = [&left, &right].map(|wall| crossing(wall, pose.point, across));
            let [Some(left_at), Some(right_at)] = offsets else {
                continue;
            };
            if right_at < left_at {
                exchanged += 1;
                first_exchanged_mm.get_or_insert(from_apex_mm);
            } else {
                in_order += 1;
            }
            samples.push([from_apex_mm, right_at - left_at]);
        }
        match (in_order, exchanged) {
            (0, 0) => Err(WidthError::NotBeside),
            (0, _) => Err(WidthError::Exchanged),
            (_, 0) if samples.len() < FEWEST_LEVELS => Err(WidthError::NotBeside),
            (_, 0) => Self::new(samples),
            _ => Err(WidthError::Crossing {
                from_apex_mm: first_exchanged_mm.unwrap_or(0.0),
            }),
        }
    }
}

/// Mean width between two walls (mm, tooth frame, orifice → apex) over the
/// last `length_mm` before `apex_at_mm` along the path, on sections normal to
/// it. `None` where the walls cross, are no lines, or leave more than half of
/// the levels out.
pub fn mean_width_at_end(
    path: &StraightArcPath,
    apex_at_mm: f64,
    length_mm: f64,
    left: &[Point],
    right: &[Point],
) -> Option<f64> {
    let (left, right) = (polyline(left)?, polyline(right)?);
    let levels = (length_mm / STEP_MM).round() as usize;
    let widths: Vec<f64> = (0..=levels)
        .filter_map(|k| {
            let pose = path.pose_at_length(apex_at_mm - k as f64 * STEP_MM);
            let across = right_of(pose.direction);
            let at = |wall: &[Point]| crossing(wall, pose.point, across);
            Some(at(&right)? - at(&left)?)
        })
        .collect();
    let usable = 2 * widths.len() > levels && widths.iter().all(|width| *width >= 0.0);
    usable.then(|| widths.iter().sum::<f64>() / widths.len() as f64)
}

/// Where widths are read, from the apex, ascending: even levels, the start of
/// the path, and both ends of what both walls reach along it.
fn levels(path: &StraightArcPath, apex_at_mm: f64, walls: [&[Point]; 2]) -> Vec<f64> {
    let longest = apex_at_mm.clamp(0.0, 100.0);
    let count = (longest / STEP_MM).floor() as usize;
    let mut levels: Vec<f64> = (0..=count).map(|k| k as f64 * STEP_MM).collect();
    let [left, right] = walls.map(|wall| {
        let at = |point: &Point| apex_at_mm - path.project(*point).length_at;
        (
            wall.last().map_or(f64::NAN, at),
            wall.first().map_or(f64::NAN, at),
        )
    });
    // A hair inside, where both walls are sure to be met.
    let ends = [
        left.0.max(right.0) + SAME_LEVEL_MM,
        left.1.min(right.1) - SAME_LEVEL_MM,
        longest,
    ];
    levels.extend(ends.into_iter().filter(|end| (0.0..=longest).contains(end)));
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|next, before| *next - *before < 2.0 * SAME_LEVEL_MM);
    levels
}

/// The curve through a wall's points in short straight pieces.
fn polyline(points: &[Point]) -> Option<Vec<Point>> {
    let curve = DrawnCurve::through(points).ok()?;
    let mut pieces = Vec::new();
    flatten(curve.to_bez_path(), FLATNESS_MM, |element| match element {
        PathEl::MoveTo(point) | PathEl::LineTo(point) => pieces.push(point),
        _ => {}
    });
    Some(pieces)
}

/// Where a section through `centre` along `across` meets a wall: the crossing
/// nearest to the centre, mm to the right of it.
fn crossing(wall: &[Point], centre: Point, across: Vec2) -> Option<f64> {
    let along = Vec2::new(-across.y, across.x);
    let mut nearest: Option<f64> = None;
    for pair in wall.windows(2) {
        let [from, to] = [pair[0] - centre, pair[1] - centre].map(|v| v.dot(along));
        if from * to > 0.0 || from == to {
            continue;
        }
        let share = from / (from - to);
        let offset = (pair[0].lerp(pair[1], share) - centre).dot(across);
        if offset.abs() <= REACH_MM && nearest.is_none_or(|n| offset.abs() < n.abs()) {
            nearest = Some(offset);
        }
    }
    nearest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Piece;

    /// Closed form: walls concentric with an arc of 8 mm keep their distance;
    /// wedge walls widen evenly.
    #[test]
    fn sections_are_normal_to_the_path() {
        let turn = 40f64.to_radians();
        let pieces = [Piece::Arc {
            length: 8.0 * turn,
            turn_rad: turn,
        }];
        // Heading +y; positive turns are clockwise on the film.
        let path = StraightArcPath::new(Point::ORIGIN, 90f64.to_radians(), &pieces).unwrap();
        let centre = Point::new(-8.0, 0.0);
        let wall = |radius: f64| -> Vec<Point> {
            (-2..=22)
                .map(|k| {
                    let angle = turn * f64::from(k) / 20.0;
                    centre + Vec2::new(angle.cos(), angle.sin()) * radius
                })
                .collect()
        };
        // Seen from the orifice (heading down the film), +x is on the left.
        let widths =
            WidthProfile::between_walls(&path, path.length(), &wall(8.2), &wall(7.7)).unwrap();
        for [_, width] in widths.samples_mm() {
            assert!((width - 0.5).abs() < 1e-4, "{width}");
        }
        let exchanged = WidthProfile::between_walls(&path, path.length(), &wall(7.7), &wall(8.2));
        assert_eq!(exchanged, Err(WidthError::Exchanged));
        let far = WidthProfile::between_walls(&path, path.length(), &wall(20.0), &wall(21.0));
        assert_eq!(far, Err(WidthError::NotBeside));
    }

    #[test]
    fn walls_that_cross_are_named_with_the_place() {
        let straight = [Piece::Straight { length: 10.0 }];
        let path = StraightArcPath::new(Point::ORIGIN, 90f64.to_radians(), &straight).unwrap();
        let left = [Point::new(0.6, -1.0), Point::new(-0.6, 11.0)];
        let right = [Point::new(-0.6, -1.0), Point::new(0.6, 11.0)];
        let error = WidthProfile::between_walls(&path, 10.0, &left, &right).unwrap_err();
        assert_eq!(error, WidthError::Crossing { from_apex_mm: 0.0 });
        let line = WidthProfile::between_walls(&path, 10.0, &left[..1], &right).unwrap_err();
        assert!(line.to_string().contains("left wall"));
    }
}
