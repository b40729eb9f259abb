//! Walls followed from the centre line: the two edges of the dark (or bright)
//! canal in sections across it, to a fraction of a pixel, each with what the
//! picture says of its uncertainty.

use kurbo::Point;

use super::edge_doubt::{COMMON_OVER_PX, Doubt, LocalBlur, doubts};
use super::error::{FollowError, ShapingError};
use super::picture::Picture;
use super::section_fit::{Edges, Profile, ROWS_PX};
use crate::case::{WallReading, WallReadings, WallSide, Walls};
use crate::film::Film;
use crate::geometry::{DrawnCurve, right_of};
use crate::statistics::quantile;
use crate::units::FilmPoint;

/// Sections reach this share of the line's length to each side: no canal is a
/// fifth as wide as it is long.
const REACH: f64 = 0.1;

/// Share of the sections that must be seen.
const LEAST_SEEN: f64 = 0.6;

/// An edge farther than this from its neighbours' is another line's, px.
const JUMP_PX: f64 = 2.0;
/// Neighbours are this many sections to each side.
const JUMP_SECTIONS: usize = 3;

/// Blur is taken from this many sections to each side: it changes over the
/// picture, and one section alone tells little of it.
const BLUR_SECTIONS: usize = 12;

/// Edges with less than this share of the contrast around are something else's,
/// such as a reflection's.
const LEAST_OF_USUAL: f64 = 0.25;

/// Edges are looked for where those of this many sections to each side are.
const NEAR_SECTIONS: usize = 4;

/// Walls as followed.
#[derive(Clone, Debug, PartialEq)]
pub struct FollowedWalls {
    /// Ready for the case.
    pub walls: Walls,
    /// Share of the sections that showed both edges.
    pub seen: f64,
    /// Standard deviation of the film's blur across the walls, px: its median.
    pub blur_px: f64,
}

/// Follows the walls of every traced canal that has none.
///
/// # Errors
/// [`ShapingError::Follow`]: where they are not seen.
pub fn follow_walls_of(picture: &mut Picture, film: &Film) -> Result<(), ShapingError> {
    for canal in &mut picture.case.canals {
        if canal.walls.is_some() {
            continue;
        }
        let followed =
            follow_walls(film, &canal.trace_px).map_err(|error| ShapingError::Follow {
                canal: canal.name.clone(),
                film: picture.name.clone(),
                error,
            })?;
        canal.walls = Some(followed.walls);
    }
    Ok(())
}

/// Follows both walls along a canal's trace, orifice → end.
///
/// # Errors
/// [`FollowError`].
pub fn follow_walls(film: &Film, trace_px: &[FilmPoint]) -> Result<FollowedWalls, FollowError> {
    if trace_px.len() < 2 {
        return Err(FollowError::NoTrace);
    }
    let points: Vec<Point> = trace_px.iter().map(|p| Point::new(p.x, p.y)).collect();
    let line = DrawnCurve::through(&points).map_err(|_| FollowError::TooShort)?;
    let length = line.length();
    if length < 10.0 * ROWS_PX {
        return Err(FollowError::TooShort);
    }
    let reach = (REACH * length).clamp(8.0, 120.0);
    let count = (length / ROWS_PX).floor() as usize;
    let sections: Vec<Profile> = (0..count)
        .map(|i| Profile::read(film, &line, (i as f64 + 0.5) * ROWS_PX, reach))
        .collect();
    // Dark or bright is the same all along.
    let sense = sections.iter().map(Profile::sense).sum::<f64>().signum();
    let first: Vec<Option<Edges>> = sections
        .iter()
        .map(|section| section.fit(sense, None, None))
        .collect();
    let blurs = blurs(&first);
    let edges: Vec<Option<Edges>> = sections
        .iter()
        .enumerate()
        .map(|(i, section)| section.fit(sense, near(&first, i), Some(blurs[i]?.px)))
        .collect();
    let kept = without_jumps(&edges);
    let seen = kept.len() as f64 / count as f64;
    let mut all: Vec<f64> = blurs.iter().flatten().map(|b| b.px).collect();
    let Some(blur_px) = quantile(&mut all, 0.5) else {
        return Err(FollowError::NotSeen { seen: 0.0 });
    };
    if seen < LEAST_SEEN || kept.len() < 4 {
        return Err(FollowError::NotSeen { seen });
    }
    let doubts = doubts(&kept, &blurs);
    let wall = |side: WallSide| Wall {
        line: &line,
        side,
        kept: &kept,
        doubts: &doubts,
    };
    let [left, right] = WallSide::BOTH.map(wall);
    Ok(FollowedWalls {
        walls: Walls {
            left_px: left.points_px(),
            right_px: right.points_px(),
            followed: Some(WallReadings {
                left: left.reading(),
                right: right.reading(),
                ..WallReadings::default()
            }),
            ..Walls::default()
        },
        seen,
        blur_px,
    })
}

/// One wall as it was read.
struct Wall<'a> {
    line: &'a DrawnCurve,
    side: WallSide,
    kept: &'a [(usize, Edges)],
    doubts: &'a [[Doubt; 2]],
}

impl Wall<'_> {
    fn points_px(&self) -> Vec<FilmPoint> {
        let place = |(i, edges): &(usize, Edges)| {
            let at = (*i as f64 + 0.5) * ROWS_PX;
            let across = right_of(self.line.tangent_at_length(at));
            let p = self.line.point_at_length(at) + across * edges.at[self.side as usize];
            FilmPoint::new(p.x, p.y)
        };
        self.kept.iter().map(place).collect()
    }

    fn reading(&self) -> WallReading {
        let doubts = || self.doubts.iter().map(|both| both[self.side as usize]);
        WallReading {
            u_px: doubts().map(|doubt| Some(doubt.own_px)).collect(),
            common_u_px: doubts().map(|doubt| doubt.common_px).collect(),
            common_over_px: COMMON_OVER_PX,
            ..WallReading::default()
        }
    }
}

/// The blur at each section from those around it, as sharply as each tells it.
fn blurs(first: &[Option<Edges>]) -> Vec<Option<LocalBlur>> {
    let at = |i: usize| {
        let seen = || around(first, i, BLUR_SECTIONS);
        let middle = median(seen().map(|edges| edges.blur))?;
        // A normal spread has its median deviation at 0.6745 of it.
        let spread = median(seen().map(|edges| (edges.blur - middle).abs()))? / 0.6745;
        let (mut sum, mut weights, mut squares) = (0.0, 0.0, 0.0);
        for edges in seen() {
            let off = (edges.blur - middle).abs();
            if off > 3.0 * spread.max(0.02) {
                continue;
            }
            let weight = (edges.u_blur.powi(2) + 0.01).recip();
            sum += weight * edges.blur;
            weights += weight;
            squares += weight * weight;
        }
        let effective = weights * weights / squares;
        Some(LocalBlur {
            px: sum / weights,
            u_px: spread / effective.sqrt(),
        })
    };
    (0..first.len()).map(at).collect()
}

/// The sections that are seen of those from `reach` before one to `reach` behind.
fn around(edges: &[Option<Edges>], i: usize, reach: usize) -> impl Iterator<Item = &Edges> {
    let near = i.saturating_sub(reach)..(i + reach + 1).min(edges.len());
    edges[near].iter().flatten()
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    quantile(&mut values.collect::<Vec<f64>>(), 0.5)
}

/// Where the edges of the sections around one lie: their medians.
fn near(edges: &[Option<Edges>], i: usize) -> Option<[f64; 2]> {
    let of_side = |side: usize| median(around(edges, i, NEAR_SECTIONS).map(|e| e.at[side]));
    Some([of_side(0)?, of_side(1)?])
}

/// Sections whose edges agree with those beside them and are as clear.
fn without_jumps(edges: &[Option<Edges>]) -> Vec<(usize, Edges)> {
    let middle = |i: usize, side: usize| {
        let beside = around(edges, i, JUMP_SECTIONS).map(|e| e.at[side]);
        median(beside).unwrap_or(f64::NAN)
    };
    let usual = |i: usize| {
        let beside = around(edges, i, BLUR_SECTIONS).map(Edges::least_contrast);
        median(beside).unwrap_or(0.0)
    };
    let agrees = |i: usize, e: &Edges| {
        [0, 1]
            .iter()
            .all(|&side| (e.at[side] - middle(i, side)).abs() <= JUMP_PX)
    };
    let seen = edges
        .iter()
        .enumerate()
        .filter_map(|(i, e)| Some((i, e.clone()?)));
    let is_clear = |i: usize, e: &Edges| e.least_contrast() > LEAST_OF_USUAL * usual(i);
    seen.filter(|(i, e)| agrees(*i, e) && is_clear(*i, e))
        .collect()
}
