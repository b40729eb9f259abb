//! The measurement model of one canal: from marks, walls and centre line to
//! every number of every level, for the best estimates and for each draw.

use kurbo::Point;

use super::aberrations::{self, Aberration, AberrationKind, Profile, ProfilePoint};
use super::centre_line::{CentreLine, Station, path_station};
use super::error::ShapingError;
use super::measures::{Side, centring_ratio, transport};
use super::pair::Pair;
use super::sections::{Section, WallCurve};
use super::settings::ShapingSettings;
use crate::geometry::right_of;
use crate::progress::Progress;
use crate::registration::{Scale, Similarity, register};
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet};
use crate::uncertainty::monte_carlo::{self, Draws, draw_outputs};

/// Numbers of one level in the order of the outputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub enum LevelOutput {
    WidthBefore,
    WidthAfter,
    RemovedLeft,
    RemovedRight,
    Transport,
    CentringRatio,
    RemainingLeft,
    RemainingRight,
}

/// Number of [`LevelOutput`]s.
pub const LEVEL_OUTPUTS: usize = 8;

/// Distance between the sections by which findings are judged, mm.
const PROFILE_STEP_MM: f64 = 0.25;

/// Two walls of one kind, left then right.
#[derive(Clone, Debug, PartialEq)]
pub struct WallSet {
    /// Points, orifice → end: mm of the first film, or detector units of the
    /// second.
    pub points: [Vec<Point>; 2],
    /// How well they are known across the wall, in the same unit.
    pub errors: [WallErrors; 2],
    /// Of each stretch between two points of a followed wall, whether nothing was
    /// seen there; empty where the points were clicked.
    pub unseen: [Vec<bool>; 2],
    /// Lies on the second film.
    pub on_after: bool,
}

/// How well the points of one wall are known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WallErrors {
    /// Standard deviation of each that no other shares.
    pub own: Vec<f64>,
    /// Standard deviation of each that its neighbours share; empty: nothing.
    pub common: Vec<f64>,
    /// What each has of the common error of the point before: 1 all of it.
    pub shared: Vec<f64>,
}

impl WallErrors {
    /// How many numbers are drawn for a wall.
    fn input_count(&self) -> usize {
        self.own.len() + self.common.len()
    }

    fn inputs(&self) -> impl Iterator<Item = Input> {
        let own = self.own.iter().map(|&sd| Input::normal("wall", 0.0, sd));
        let common = self.common.iter();
        own.chain(common.map(|_| Input::normal("wall, with its neighbours", 0.0, 1.0)))
    }

    /// Deviation of each point from what was drawn (empty: none).
    fn deviations(&self, drawn: &[f64], mut each: impl FnMut(usize, f64)) {
        let (own, common) = drawn.split_at(self.own.len().min(drawn.len()));
        let mut with_neighbours = 0.0;
        for index in 0..self.own.len() {
            let mut deviation = own.get(index).copied().unwrap_or(0.0);
            if let Some(new) = common.get(index) {
                let shared = if index == 0 { 0.0 } else { self.shared[index] };
                with_neighbours = shared * with_neighbours + (1.0 - shared * shared).sqrt() * new;
                deviation += self.common[index] * with_neighbours;
            }
            each(index, deviation);
        }
    }
}

/// One canal on both films.
#[derive(Debug)]
pub struct CanalModel<'a> {
    pair: &'a Pair,
    settings: &'a ShapingSettings,
    /// The centre line before.
    pub line: CentreLine,
    line_end_sd: f64,
    /// Walls before, after, and the root's outline.
    sets: Vec<WallSet>,
    across: Vec<[Vec<kurbo::Vec2>; 2]>,
    /// Distances of the levels from the end, mm.
    pub levels: Vec<f64>,
    fine: Vec<f64>,
    outer: Vec<Option<Side>>,
    /// How far short of the before-canal the after-canal ends, mm.
    pub short_mm: Option<f64>,
}

/// Memory reused from draw to draw.
#[derive(Default)]
pub struct Scratch {
    curves: Vec<[Option<WallCurve>; 2]>,
    points: Vec<Point>,
    profile: Profile,
}

/// What the best estimates show.
pub struct Nominal {
    pub sections: Vec<Section>,
    pub aberrations: Vec<Aberration>,
}

impl<'a> CanalModel<'a> {
    /// The model of a canal with walls `before` and `after` and, where it was
    /// traced, the root's `outline`.
    pub fn new(
        pair: &'a Pair,
        settings: &'a ShapingSettings,
        (line, line_sd): (CentreLine, f64),
        sets: Vec<WallSet>,
        short_mm: Option<f64>,
    ) -> Self {
        let across = sets
            .iter()
            .map(|set| set.points.each_ref().map(|p| normals(p)));
        let length = line.length();
        let count = |step: f64| (length / step + 1e-9).floor() as usize;
        let every = |step: f64| {
            (0..=count(step))
                .map(|i| i as f64 * step)
                .collect::<Vec<_>>()
        };
        let fine = every(PROFILE_STEP_MM);
        let outer = fine.iter().map(|&s| outer_side(&line, s)).collect();
        Self {
            pair,
            settings,
            levels: every(settings.step_mm),
            fine,
            outer,
            across: across.collect(),
            line,
            line_end_sd: line_sd,
            sets,
            short_mm,
        }
    }

    /// The outer side of the curve at a level.
    pub fn outer_at(&self, from_end_mm: f64) -> Option<Side> {
        outer_side(&self.line, from_end_mm)
    }

    /// All inputs as deviations from the best estimates: marks of both films,
    /// the two scales, the centre line, then every wall point across its wall.
    fn inputs(&self) -> Result<InputSet, UncertaintyError> {
        let excess = self.pair.mark_excess;
        let unit = self.pair.registration.transform.scale;
        let [sd_a, sd_b] = self.pair.mark_sd;
        let normal = |name: &str, sd: f64| Input::normal(name, 0.0, sd);
        let mut inputs = Vec::new();
        for sd in [sd_a * excess, sd_b * excess * unit] {
            let both = 2 * self.pair.marks_before.len();
            inputs.extend(std::iter::repeat_n(normal("mark", sd), both));
        }
        inputs.push(normal("scale", self.pair.u_scale));
        inputs.push(normal(
            "scale of one film against the other",
            self.pair.u_scale_ratio,
        ));
        let of_line = std::iter::repeat_n(normal("centre line", 1.0), self.line.deviate_count());
        inputs.extend(of_line);
        for errors in self.sets.iter().flat_map(|set| &set.errors) {
            inputs.extend(errors.inputs());
        }
        InputSet::new(inputs)
    }

    /// Number of outputs: levels, then one per kind of aberration (0 or 1).
    pub fn output_count(&self) -> usize {
        self.levels.len() * LEVEL_OUTPUTS + AberrationKind::ALL.len()
    }

    /// Index of a level's output.
    pub fn level_output(level: usize, output: LevelOutput) -> usize {
        level * LEVEL_OUTPUTS + output as usize
    }

    /// Index of the output that says whether there is an aberration.
    pub fn aberration_output(&self, kind: AberrationKind) -> usize {
        self.levels.len() * LEVEL_OUTPUTS + kind as usize
    }

    /// All outputs in all draws.
    ///
    /// # Errors
    /// An input without a finite spread; too few draws.
    pub fn draws(&self, seed: u64, progress: &Progress<'_>) -> Result<Draws, ShapingError> {
        let amount = monte_carlo::Sampling {
            draws: self.settings.draws,
            seed,
        };
        let drawn = draw_outputs(
            &self.inputs()?,
            self.output_count(),
            amount,
            progress,
            Scratch::default,
            |values, scratch, out| self.evaluate(values, scratch, out),
        )?;
        Ok(drawn)
    }

    /// Everything at the best estimates.
    ///
    /// # Errors
    /// Walls that cross, with the distance from the end.
    pub fn nominal(&self) -> Result<Nominal, (usize, f64)> {
        let mut scratch = Scratch::default();
        let transform = self.pair.registration.transform;
        self.place_walls(&[], &transform, &mut scratch);
        for (set, curves) in scratch.curves.iter().enumerate() {
            for &s in &self.fine {
                let [left, right] = self.offsets(set, curves, &self.line.station(s));
                if left > right {
                    return Err((set, s));
                }
            }
        }
        let at = |s: &f64| self.section(&scratch.curves, &self.line.station(*s));
        let sections = self.levels.iter().map(at).collect();
        let profile = self.profile(self.fine.iter().map(at));
        let aberrations =
            aberrations::find_aberrations(&profile, self.short_mm, &self.settings.limits);
        Ok(Nominal {
            sections,
            aberrations,
        })
    }

    fn profile(&self, sections: impl Iterator<Item = Section>) -> Profile {
        let points = self.fine.iter().zip(&self.outer).zip(sections);
        Profile {
            length_mm: self.line.length(),
            points: points
                .map(|((&from_end_mm, &outer), section)| ProfilePoint {
                    from_end_mm,
                    outer,
                    section,
                })
                .collect(),
        }
    }

    /// Wall curves in the first film's frame, their points moved across the
    /// walls by `deviations` (none: not at all).
    fn place_walls(&self, deviations: &[f64], transform: &Similarity, scratch: &mut Scratch) {
        scratch.curves.resize_with(self.sets.len(), || [None, None]);
        let back = transform.inverse();
        let mut rest = deviations;
        for (index, set) in self.sets.iter().enumerate() {
            for side in 0..2 {
                let errors = &set.errors[side];
                let (own, later) = rest.split_at(errors.input_count().min(rest.len()));
                rest = later;
                let (points, across) = (&set.points[side], &self.across[index][side]);
                scratch.points.clear();
                errors.deviations(own, |place, deviation| {
                    let moved = points[place] + across[place] * deviation;
                    let moved = if set.on_after { back.map(moved) } else { moved };
                    scratch.points.push(moved);
                });
                let curve = &mut scratch.curves[index][side];
                let refitted = match curve {
                    Some(curve) => curve.refit(&scratch.points).is_ok(),
                    None => {
                        *curve = WallCurve::new(&scratch.points).ok();
                        true
                    }
                };
                if !refitted {
                    *curve = None;
                }
            }
        }
    }

    /// Offsets of a set's walls at a section; NaN where one does not reach it or
    /// was not seen.
    fn offsets(&self, set: usize, curves: &[Option<WallCurve>; 2], station: &Station) -> [f64; 2] {
        let unseen = &self.sets[set].unseen;
        [0, 1].map(|side: usize| {
            let curve = curves[side].as_ref();
            let offset = curve.and_then(|curve| curve.offset_at(station, &unseen[side]));
            offset.unwrap_or(f64::NAN)
        })
    }

    fn section(&self, curves: &[[Option<WallCurve>; 2]], station: &Station) -> Section {
        let at = |set: usize| {
            let curves = curves.get(set);
            curves.map_or([f64::NAN; 2], |curves| self.offsets(set, curves, station))
        };
        Section::new(at(0), at(1), at(2))
    }

    fn evaluate(&self, values: &[f64], scratch: &mut Scratch, out: &mut [f64]) {
        let marks = 2 * self.pair.marks_before.len();
        let (of_marks, rest) = values.split_at(2 * marks);
        let (scales, rest) = rest.split_at(2);
        let (of_line, of_walls) = rest.split_at(self.line.deviate_count());
        let moved = |points: &[Point], by: &[f64]| -> Vec<Point> {
            let pairs = points.iter().zip(by.chunks_exact(2));
            pairs
                .map(|(p, d)| Point::new(p.x + d[0], p.y + d[1]))
                .collect()
        };
        let from = moved(&self.pair.marks_before, &of_marks[..marks]);
        let to = moved(&self.pair.marks_after, &of_marks[marks..]);
        let scale = match self.pair.scale {
            Scale::Free => Scale::Free,
            Scale::Fixed(scale) => Scale::Fixed(scale * (1.0 + scales[1])),
        };
        let Ok(registration) = register(&from, &to, scale) else {
            return;
        };
        self.place_walls(of_walls, &registration.transform, scratch);
        let mut deviates = of_line.iter().copied();
        let line = self.line.drawn(|| deviates.next().unwrap_or(0.0));
        let shift = match &self.line {
            CentreLine::Drawn(_) => of_line[0] * self.line_end_sd,
            CentreLine::Fitted(_) => 0.0,
        };
        let station = |s: f64| match &line {
            Some(path) => path_station(path, s),
            None => self.line.station(s + shift),
        };
        let unit = 1.0 + scales[0];
        for (level, &s) in self.levels.iter().enumerate() {
            let section = self.section(&scratch.curves, &station(s));
            let slots = &mut out[level * LEVEL_OUTPUTS..][..LEVEL_OUTPUTS];
            slots.copy_from_slice(&level_values(&section, unit));
        }
        let fine: Vec<Section> = self
            .fine
            .iter()
            .map(|&s| self.section(&scratch.curves, &station(s)))
            .collect();
        scratch.profile = self.profile(fine.into_iter());
        let found =
            aberrations::find_aberrations(&scratch.profile, self.short_mm, &self.settings.limits);
        for kind in AberrationKind::ALL {
            let is_there = found.iter().any(|a| a.kind == kind);
            out[self.aberration_output(kind)] = f64::from(u8::from(is_there));
        }
    }
}

/// The numbers of one section in the order of [`LevelOutput`].
pub fn level_values(section: &Section, unit: f64) -> [f64; LEVEL_OUTPUTS] {
    let removal = section.removal();
    // Draws scatter about no removal: a side that lost nothing stays at 0.
    let ratio = centring_ratio(super::measures::Removal {
        left_mm: removal.left_mm.max(0.0),
        right_mm: removal.right_mm.max(0.0),
    });
    [
        section.width_before * unit,
        section.width_after * unit,
        section.removed_left * unit,
        section.removed_right * unit,
        transport(removal) * unit,
        ratio.unwrap_or(f64::NAN),
        section.remaining_left * unit,
        section.remaining_right * unit,
    ]
}

/// Unit directions across a wall at each of its points; none for a wall that
/// is no curve.
fn normals(points: &[Point]) -> Vec<kurbo::Vec2> {
    let count = points.len();
    let tangent = |i: usize| {
        let (from, to) = (points[i.saturating_sub(1)], points[(i + 1).min(count - 1)]);
        crate::geometry::unit(to - from)
    };
    (0..count).map(|i| right_of(tangent(i))).collect()
}

/// The side away from which the nearest curve bends.
fn outer_side(line: &CentreLine, from_end: f64) -> Option<Side> {
    let path = line.path()?;
    let at = path.length() - from_end;
    let lengths = path.lengths_at_poses();
    let mut nearest: Option<(f64, f64)> = None;
    for (index, piece) in path.pieces().iter().enumerate() {
        let turn = piece.turn_rad();
        if turn.abs() < LEAST_CURVE_RAD {
            continue;
        }
        let away = (lengths[index] - at).max(at - lengths[index + 1]).max(0.0);
        if nearest.is_none_or(|(distance, _)| away < distance) {
            nearest = Some((away, turn));
        }
    }
    // A positive turn bends to the right: the left side is the outer one.
    nearest.map(|(_, turn)| if turn > 0.0 { Side::Left } else { Side::Right })
}

/// Arcs that turn less have no outer side, rad: 5°, the greatest angle of a
/// straight canal in Schneider's classes (MEM).
const LEAST_CURVE_RAD: f64 = 5.0 * std::f64::consts::PI / 180.0;
