//! What one film hides of a path: the part that runs towards or away from the
//! source.
//!
//! A root leans against the detector by an angle nobody sees, and the plane of
//! each bend is turned out of the film's plane by another. Where the path runs
//! at an angle β to the film's plane, a length on the film stands for 1/cos β
//! times that length in space. A bend that shows a turn φ changes β by
//! atan(sin φ·tan ψ), ψ the turn of its plane (exact where the bend starts in
//! the film's plane), evenly along its shadow. What runs towards
//! the source is magnified more and more: its shadow s at the distance D from
//! the source stands for s/(cos β + s·sin β/D).

use arrayvec::ArrayVec;

use crate::geometry::{MAX_ARCS, MAX_PIECES, Piece, StraightArcPath};

/// Steepest angle considered, rad: beyond it a canal is no longer a line on
/// the film.
const STEEPEST_RAD: f64 = 1.05;

/// A place along a path.
#[derive(Clone, Copy, Debug)]
struct Knot {
    /// Share of the path's length on the film.
    share: f64,
    /// Angle to the film's plane, rad; changes evenly to the next knot.
    angle_rad: f64,
    /// Length in space and depth up to here, over the path's length on the
    /// film.
    in_space: InSpace,
}

impl Knot {
    /// Where the path is `span` further, at `angle_rad` to the film's plane.
    fn advanced(&self, angle_rad: f64, span: f64, nearness: f64) -> InSpace {
        let step = between(self.angle_rad, angle_rad);
        let depth = step.depth * span;
        let middle = self.in_space.depth + 0.5 * depth;
        InSpace {
            length: self.in_space.length + step.length * span * (1.0 - 2.0 * nearness * middle),
            depth: self.in_space.depth + depth,
        }
    }
}

/// Length along a path in space and its depth towards the source.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InSpace {
    pub length: f64,
    pub depth: f64,
}

/// A path's angle to the film's plane along its way.
#[derive(Clone, Debug)]
pub struct DepthProfile {
    knots: ArrayVec<Knot, { MAX_PIECES + 1 }>,
    /// Length of the path over its distance from the source.
    nearness: f64,
}

/// A bend under way.
#[derive(Clone, Copy, Debug)]
struct Bend {
    /// Which of the path's bends it is; `None`: an arc that speaks for itself.
    group: Option<usize>,
    plane_tangent: f64,
    /// What it has turned so far, as shown on the film.
    turned_rad: f64,
}

impl Bend {
    /// Change of the angle to the film's plane while it turns on.
    fn depth_turn(&mut self, turn_rad: f64) -> f64 {
        let angle = |turned: f64| (turned.sin() * self.plane_tangent).atan();
        let before = angle(self.turned_rad);
        let after = angle(self.turned_rad + turn_rad);
        self.turned_rad += turn_rad;
        after - before
    }
}

/// How a path starts in space.
#[derive(Clone, Copy, Debug)]
pub struct Start {
    /// Angle to the film's plane, rad.
    pub tilt_rad: f64,
    /// Depth towards the source from the plane where the film's scale holds,
    /// over the path's length on the film.
    pub depth: f64,
}

impl DepthProfile {
    /// A path from its `start`; the planes of its arcs are turned by
    /// `planes_rad`, from the start. Without a path the lean stays. `nearness`
    /// is the length of the path over its distance from the source.
    pub fn new(
        path: Option<&StraightArcPath>,
        start: Start,
        planes_rad: &[f64; MAX_ARCS],
        nearness: f64,
    ) -> Self {
        let mut here = Knot {
            share: 0.0,
            angle_rad: bounded(start.tilt_rad),
            in_space: InSpace {
                length: 0.0,
                depth: start.depth,
            },
        };
        let mut knots = ArrayVec::new();
        knots.push(here);
        let Some(path) = path else {
            return Self { knots, nearness };
        };
        let mut tangents = planes_rad.iter().map(|plane| plane.tan());
        let mut bend: Option<Bend> = None;
        for (index, piece) in path.pieces().iter().enumerate() {
            let depth_turn = match piece {
                Piece::Straight { .. } => 0.0,
                Piece::Arc { turn_rad, .. } => {
                    // Arcs of one bend bend in one plane.
                    let group = path.bends().iter().position(|b| index <= b[1]);
                    let is_one = |b: &Bend| group.is_some() && b.group == group;
                    let bend = match bend.take().filter(is_one) {
                        Some(same) => bend.insert(same),
                        None => bend.insert(Bend {
                            group,
                            plane_tangent: tangents.next().unwrap_or(0.0),
                            turned_rad: 0.0,
                        }),
                    };
                    bend.depth_turn(*turn_rad)
                }
            };
            let span = piece.length() / path.length();
            let angle_rad = bounded(here.angle_rad + depth_turn);
            here = Knot {
                share: here.share + span,
                angle_rad,
                in_space: here.advanced(angle_rad, span, nearness),
            };
            knots.push(here);
        }
        Self { knots, nearness }
    }

    /// From the start to a place at this share of the path's length on the
    /// film, over that length; below 0 and above 1 straight on.
    pub fn at(&self, share: f64) -> InSpace {
        let next = self.knots.iter().position(|knot| share < knot.share);
        let index = next.unwrap_or(self.knots.len()).saturating_sub(1);
        let from = self.knots[index];
        let angle_rad = match next.filter(|&n| n > 0).map(|n| self.knots[n]) {
            Some(to) => {
                let part = (share - from.share) / (to.share - from.share);
                from.angle_rad + part * (to.angle_rad - from.angle_rad)
            }
            None => from.angle_rad,
        };
        from.advanced(angle_rad, share - from.share, self.nearness)
    }
}

fn bounded(angle_rad: f64) -> f64 {
    angle_rad.clamp(-STEEPEST_RAD, STEEPEST_RAD)
}

/// Means of 1/cos β and tan β while β changes evenly (Simpson's rule).
fn between(from_rad: f64, to_rad: f64) -> InSpace {
    let at = |angle_rad: f64| {
        let (sine, cosine) = angle_rad.sin_cos();
        (cosine.recip(), sine / cosine)
    };
    let [from, middle, to] = [from_rad, 0.5 * (from_rad + to_rad), to_rad].map(at);
    InSpace {
        length: (from.0 + 4.0 * middle.0 + to.0) / 6.0,
        depth: (from.1 + 4.0 * middle.1 + to.1) / 6.0,
    }
}

impl std::ops::Mul<f64> for InSpace {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self {
            length: self.length * factor,
            depth: self.depth * factor,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Point;

    /// Starts where the film's scale holds.
    fn from(tilt_rad: f64) -> Start {
        Start {
            tilt_rad,
            depth: 0.0,
        }
    }

    /// Closed form: the scale holds in the middle of a leaning path, so what
    /// one half gains by being nearer to the source the other loses.
    #[test]
    fn perspective_about_the_middle_cancels() {
        let (lean, nearness) = (0.1f64, 0.05);
        let start = Start {
            tilt_rad: lean,
            depth: -0.5 * lean.tan(),
        };
        let found = DepthProfile::new(None, start, &[0.0; 3], nearness).at(1.0);
        assert!((found.length - lean.cos().recip()).abs() < 1e-12);
        assert!((found.depth - 0.5 * lean.tan()).abs() < 1e-12);
    }

    /// Closed form: a straight path that leans by 8° is 1/cos 8° longer than
    /// its shadow and tan 8° of it deep; prolonged too.
    #[test]
    fn a_leaning_straight_path() {
        let path =
            StraightArcPath::new(Point::ORIGIN, 1.0, &[Piece::Straight { length: 12.0 }]).unwrap();
        let lean = 8f64.to_radians();
        for profile in [
            DepthProfile::new(Some(&path), from(lean), &[0.3; 3], 0.0),
            DepthProfile::new(None, from(lean), &[0.3; 3], 0.0),
        ] {
            for share in [-0.2, 0.0, 0.4, 1.0, 1.3] {
                let found = profile.at(share);
                assert!((found.length - share / lean.cos()).abs() < 1e-12);
                assert!((found.depth - share * lean.tan()).abs() < 1e-12);
            }
        }
    }

    /// Perspective, closed form: a shadow s of a path that leans by β, at the
    /// distance D from the source, stands for s/(cos β + s·sin β/D). First
    /// order in s/D.
    #[test]
    fn a_path_towards_the_source_is_magnified() {
        let (lean, nearness) = (0.1f64, 0.05);
        let found = DepthProfile::new(None, from(lean), &[0.0; 3], nearness).at(1.0);
        let expected = (lean.cos() + nearness * lean.sin()).recip();
        assert!((found.length - expected).abs() < 5e-5);
    }

    /// An arc of 40° whose plane is turned by 20°, by stepping along it in
    /// space (numerical reference): an even change of angle along the shadow
    /// holds to 0.1 %, the angle at the end exactly.
    #[test]
    fn an_arc_out_of_the_film_plane() {
        let (turn, plane) = (40f64.to_radians(), 20f64.to_radians());
        let steps = 100_000;
        let (mut shadow, mut heading) = (0.0, Vec::new());
        for i in 0..steps {
            let angle = turn * (f64::from(i) + 0.5) / f64::from(steps);
            let across = (angle.cos()).hypot(angle.sin() * plane.cos());
            shadow += across / f64::from(steps);
            heading.push((angle.sin() * plane.cos()).atan2(angle.cos()));
        }
        let shown_turn = heading.last().unwrap() - heading[0];
        let path = StraightArcPath::new(
            Point::ORIGIN,
            0.0,
            &[Piece::Arc {
                length: shadow,
                turn_rad: shown_turn,
            }],
        )
        .unwrap();
        let profile = DepthProfile::new(Some(&path), from(0.0), &[plane; 3], 0.0);
        let found = profile.at(1.0);
        let at_end = profile.knots.last().unwrap().angle_rad;
        assert!((at_end.sin() - turn.sin() * plane.sin()).abs() < 1e-4);
        assert!(
            (found.length * shadow - 1.0).abs() < 0.001,
            "{}",
            found.length * shadow
        );
    }

    /// A bend of many short arcs bends in one plane, as one arc of the same
    /// course does; a further bend has a plane of its own.
    #[test]
    fn arcs_of_one_bend_share_its_plane() {
        let (turn, plane) = (40f64.to_radians(), 20f64.to_radians());
        let arc = |share: f64, turn_rad: f64| Piece::Arc {
            length: 6.0 * share,
            turn_rad: turn_rad * share,
        };
        let of = |pieces: &[Piece], bends: &[[usize; 2]]| {
            let path = StraightArcPath::new(Point::ORIGIN, 0.3, pieces).unwrap();
            let planes = [plane, -0.5 * plane, 0.0];
            DepthProfile::new(Some(&path.with_bends(bends)), from(0.0), &planes, 0.0)
        };
        let whole = of(&[arc(1.0, turn), arc(1.0, -turn)], &[]);
        let mut short = vec![arc(0.125, turn); 8];
        short.extend([arc(0.125, -turn); 8]);
        let smooth = of(&short, &[[0, 7], [8, 15]]);
        let angle = |profile: &DepthProfile| profile.knots.last().unwrap().angle_rad;
        assert!((angle(&whole) - angle(&smooth)).abs() < 1e-12);
        assert!(angle(&whole).abs() > 0.1);
        for share in [0.25, 0.5, 1.0] {
            let [a, b] = [&whole, &smooth].map(|profile| profile.at(share));
            assert!((a.length - b.length).abs() < 2e-3 * a.length, "{a:?} {b:?}");
            assert!((a.depth - b.depth).abs() < 0.01, "{a:?} {b:?}");
        }
    }
}
