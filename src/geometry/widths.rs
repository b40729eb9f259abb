//! The canal's width level by level, from its two walls.

use kurbo::{ParamCurve, PathEl, Point, Shape, Vec2, flatten};
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
    /// Stretches between samples where a wall was not seen, `[from, to]` from the
    /// end, mm.
    gaps: Vec<[f64; 2]>,
}

/// A wall: its points, mm, and of each stretch between two of them whether
/// nothing was seen there (none where it is empty).
#[derive(Clone, Copy, Debug)]
pub struct WallLine<'a> {
    pub points: &'a [Point],
    pub unseen: &'a [bool],
}

impl<'a> WallLine<'a> {
    /// A wall that is seen all along.
    pub fn seen(points: &'a [Point]) -> Self {
        Self {
            points,
            unseen: &[],
        }
    }
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
            Ok(Self {
                samples,
                gaps: Vec::new(),
            })
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
        for end in self.gaps.iter_mut().flatten() {
            *end *= factor;
        }
        (factor.is_finite() && factor > 0.0).then_some(self)
    }

    /// Stretches where a wall was not seen, `[from, to]` from the end, mm.
    pub fn gaps_mm(&self) -> &[[f64; 2]] {
        &self.gaps
    }

    /// Width at a place, mm; `None` beyond the profile and where a wall was not
    /// seen.
    pub fn width_mm(&self, from_end_mm: f64) -> Option<f64> {
        let inside = |gap: &[f64; 2]| gap[0] < from_end_mm && from_end_mm < gap[1];
        if self.gaps.iter().any(inside) {
            return None;
        }
        let pair = self
            .samples
            .windows(2)
            .find(|pair| (pair[0][0]..=pair[1][0]).contains(&from_end_mm))?;
        let share = (from_end_mm - pair[0][0]) / (pair[1][0] - pair[0][0]);
        Some(pair[0][1] + share * (pair[1][1] - pair[0][1]))
    }

    /// Widths between two walls (mm, tooth frame, orifice → apex) along
    /// sections normal to `path`, counted from `apex_at_mm` along it: at even
    /// levels and where the shorter wall ends. Levels that a wall does not reach,
    /// or where it was not seen, are left out.
    ///
    /// # Errors
    /// [`WidthError`].
    pub fn between_walls(
        path: &StraightArcPath,
        apex_at_mm: f64,
        left: WallLine<'_>,
        right: WallLine<'_>,
    ) -> Result<Self, WidthError> {
        let walls = [("left", left), ("right", right)]
            .map(|(side, wall)| polyline(wall).ok_or(WidthError::NoLine { side }));
        let [left, right] = walls;
        let (left, right) = (left?, right?);
        let levels = levels(path, apex_at_mm, [&left, &right]);
        let mut samples: Vec<[f64; 2]> = Vec::new();
        let mut gaps = Vec::new();
        let mut is_hidden = false;
        let (mut in_order, mut exchanged) = (0usize, 0usize);
        let mut first_exchanged_mm = None;
        for from_apex_mm in levels {
            let pose = path.pose_at_length(apex_at_mm - from_apex_mm);
            let across = right_of(pose.direction);
            let offsets = [&left, &right].map(|wall| crossing(wall, pose.point, across));
            is_hidden |= offsets.contains(&Crossing::Unseen);
            let [Crossing::At(left_at), Crossing::At(right_at)] = offsets else {
                continue;
            };
            if is_hidden {
                let from = samples.last().map_or(0.0, |sample| sample[0]);
                gaps.push([from, from_apex_mm]);
                is_hidden = false;
            }
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
            (_, 0) => {
                if is_hidden {
                    let from = samples.last().map_or(0.0, |sample| sample[0]);
                    gaps.push([from, apex_at_mm]);
                }
                Ok(Self {
                    gaps,
                    ..Self::new(samples)?
                })
            }
            _ => Err(WidthError::Crossing {
                from_apex_mm: first_exchanged_mm.unwrap_or(0.0),
            }),
        }
    }
}

/// Mean width between two walls (mm, tooth frame, orifice → apex) over the
/// last `length_mm` before `apex_at_mm` along the path, on sections normal to
/// it. `None` where the walls cross, are no lines, were not seen at a level, or
/// leave more than half of the levels out.
pub fn mean_width_at_end(
    path: &StraightArcPath,
    apex_at_mm: f64,
    length_mm: f64,
    left: WallLine<'_>,
    right: WallLine<'_>,
) -> Option<f64> {
    let (left, right) = (polyline(left)?, polyline(right)?);
    let levels = (length_mm / STEP_MM).round() as usize;
    let mut widths = Vec::with_capacity(levels + 1);
    for k in 0..=levels {
        let pose = path.pose_at_length(apex_at_mm - k as f64 * STEP_MM);
        let across = right_of(pose.direction);
        match [&left, &right].map(|wall| crossing(wall, pose.point, across)) {
            [Crossing::At(left), Crossing::At(right)] => widths.push(right - left),
            [Crossing::Unseen, _] | [_, Crossing::Unseen] => return None,
            _ => {}
        }
    }
    let usable = 2 * widths.len() > levels && widths.iter().all(|width| *width >= 0.0);
    usable.then(|| widths.iter().sum::<f64>() / widths.len() as f64)
}

/// Where widths are read, from the apex, ascending: even levels, the start of
/// the path, and both ends of what both walls reach along it.
fn levels(path: &StraightArcPath, apex_at_mm: f64, walls: [&[WallPiece]; 2]) -> Vec<f64> {
    let longest = apex_at_mm.clamp(0.0, 100.0);
    let count = (longest / STEP_MM).floor() as usize;
    let mut levels: Vec<f64> = (0..=count).map(|k| k as f64 * STEP_MM).collect();
    let [left, right] = walls.map(|wall| {
        let at = |point: Point| apex_at_mm - path.project(point).length_at;
        (
            wall.last().map_or(f64::NAN, |piece| at(piece.to)),
            wall.first().map_or(f64::NAN, |piece| at(piece.from)),
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

/// A short straight piece of a wall.
struct WallPiece {
    from: Point,
    to: Point,
    is_unseen: bool,
}

/// The curve through a wall's points in short straight pieces.
fn polyline(wall: WallLine<'_>) -> Option<Vec<WallPiece>> {
    let curve = DrawnCurve::through(wall.points).ok()?.to_bez_path();
    let mut pieces = Vec::new();
    for (stretch, segment) in curve.segments().enumerate() {
        let is_unseen = wall.unseen.get(stretch) == Some(&true);
        let mut last = segment.start();
        flatten(segment.to_path(FLATNESS_MM), FLATNESS_MM, |element| {
            if let PathEl::LineTo(to) = element {
                pieces.push(WallPiece {
                    from: last,
                    to,
                    is_unseen,
                });
                last = to;
            }
        });
    }
    Some(pieces)
}

/// Where a section meets a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Crossing {
    /// mm to the right of its centre.
    At(f64),
    /// On a stretch that was not seen.
    Unseen,
    Nowhere,
}

/// Where a section through `centre` along `across` meets a wall: the crossing
/// nearest to the centre.
fn crossing(wall: &[WallPiece], centre: Point, across: Vec2) -> Crossing {
    let along = Vec2::new(-across.y, across.x);
    let mut nearest: Option<(f64, bool)> = None;
    for piece in wall {
        let [from, to] = [piece.from - centre, piece.to - centre].map(|v| v.dot(along));
        if from * to > 0.0 || from == to {
            continue;
        }
        let share = from / (from - to);
        let offset = (piece.from.lerp(piece.to, share) - centre).dot(across);
        if offset.abs() <= REACH_MM && nearest.is_none_or(|(n, _)| offset.abs() < n.abs()) {
            nearest = Some((offset, piece.is_unseen));
        }
    }
    match nearest {
        Some((offset, false)) => Crossing::At(offset),
        Some((_, true)) => Crossing::Unseen,
        None => Crossing::Nowhere,
    }
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
        let between = |left: f64, right: f64| {
            let (left, right) = (wall(left), wall(right));
            let (left, right) = (WallLine::seen(&left), WallLine::seen(&right));
            WidthProfile::between_walls(&path, path.length(), left, right)
        };
        let widths = between(8.2, 7.7).unwrap();
        for [_, width] in widths.samples_mm() {
            assert!((width - 0.5).abs() < 1e-4, "{width}");
        }
        assert_eq!(between(7.7, 8.2), Err(WidthError::Exchanged));
        assert_eq!(between(20.0, 21.0), Err(WidthError::NotBeside));
    }

    /// Straight walls 0.5 mm apart with points every millimetre; the stretch from
    /// 4 to 5 mm from the end was not seen on one side: no width there, whatever
    /// the points above and below would make of it.
    #[test]
    fn where_a_wall_was_not_seen_there_is_no_width() {
        let straight = [Piece::Straight { length: 10.0 }];
        let path = StraightArcPath::new(Point::ORIGIN, 90f64.to_radians(), &straight).unwrap();
        let wall =
            |x: f64| -> Vec<Point> { (0..=10).map(|y| Point::new(x, f64::from(y))).collect() };
        let (left, right) = (wall(0.25), wall(-0.25));
        let mut unseen = [false; 10];
        unseen[5] = true;
        let hidden = WallLine {
            points: &right,
            unseen: &unseen,
        };
        let widths =
            WidthProfile::between_walls(&path, 10.0, WallLine::seen(&left), hidden).unwrap();
        let [[from, to]] = *widths.gaps_mm() else {
            panic!("{:?}", widths.gaps_mm());
        };
        assert!((3.85..=4.0).contains(&from) && (5.0..=5.15).contains(&to));
        assert_eq!(widths.width_mm(4.5), None);
        assert!((widths.width_mm(3.5).unwrap() - 0.5).abs() < 1e-9);
        assert!((widths.width_mm(6.0).unwrap() - 0.5).abs() < 1e-9);
        let at_end = |from_end: f64| {
            let seen = WallLine::seen(&left);
            mean_width_at_end(&path, 10.0 - from_end, 0.5, seen, hidden)
        };
        assert_eq!(at_end(4.2), None);
        assert!((at_end(0.0).unwrap() - 0.5).abs() < 1e-9);
    }

    #[test]
    fn walls_that_cross_are_named_with_the_place() {
        let straight = [Piece::Straight { length: 10.0 }];
        let path = StraightArcPath::new(Point::ORIGIN, 90f64.to_radians(), &straight).unwrap();
        let left = [Point::new(0.6, -1.0), Point::new(-0.6, 11.0)];
        let right = [Point::new(-0.6, -1.0), Point::new(0.6, 11.0)];
        let right_wall = WallLine::seen(&right);
        let between = |left: &[Point]| {
            WidthProfile::between_walls(&path, 10.0, WallLine::seen(left), right_wall)
        };
        let error = between(&left).unwrap_err();
        assert_eq!(error, WidthError::Crossing { from_apex_mm: 0.0 });
        let line = between(&left[..1]).unwrap_err();
        assert!(line.to_string().contains("left wall"));
    }
}
