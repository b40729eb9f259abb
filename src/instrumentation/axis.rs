//! The axis that a file follows in a canal, and how it is bent along it.

use std::ops::Range;

use super::bend::{FilePart, part_in_bend};
use super::nominal::NominalFile;
use super::strain::{Peak, peak, surface_strain_at};
use crate::geometry::StraightArcPath;

/// Turns below this are rounding, rad.
const SMALLEST_TURN_RAD: f64 = 1e-9;
/// Curvatures are read this far inside a piece of the path, as a share of its
/// length: at a joint two pieces meet.
const INSIDE: f64 = 1e-9;

/// A bend is taken to be spread over at least this length, mm: a file does not
/// follow a kink (our choice). Fits and draws with shorter arcs would have any
/// strain.
pub const SHORTEST_BEND_MM: f64 = 1.0;

/// A shorter bend than that is a kink from this turn on, rad (2°, our choice):
/// a smooth path changes sides by less here and there.
const LEAST_KINK_RAD: f64 = 0.035;

/// A canal's path in mm of the tooth, places counted from the apex. The file's
/// own axis is taken to lie on it.
#[derive(Clone, Debug, PartialEq)]
pub struct CanalAxis {
    path: StraightArcPath,
    apex_at_mm: f64,
}

/// One place of a file in a canal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BentPlace {
    pub from_apex_mm: f64,
    pub diameter_mm: f64,
    /// Not negative.
    pub curvature_per_mm: f64,
    /// As a share.
    pub strain: f64,
}

impl CanalAxis {
    /// The axis along `path` (mm) with the apex at `apex_at_mm` from its start.
    pub fn new(path: StraightArcPath, apex_at_mm: f64) -> Self {
        Self { path, apex_at_mm }
    }

    /// The path, mm, orifice → apex.
    pub fn path(&self) -> &StraightArcPath {
        &self.path
    }

    /// From the start of the trace to the apex, mm.
    pub fn length_mm(&self) -> f64 {
        self.apex_at_mm
    }

    /// A place on the path, from its start, mm.
    pub fn at_mm(&self, from_apex_mm: f64) -> f64 {
        self.apex_at_mm - from_apex_mm
    }

    /// Curvature at a place, rad per mm, not negative; 0 beyond both ends.
    pub fn curvature_per_mm(&self, from_apex_mm: f64) -> f64 {
        self.path
            .curvature_at_length(self.at_mm(from_apex_mm))
            .abs()
    }

    /// The stretch of the canal, from the apex, in which the working part lies
    /// while the tip stands `tip_mm` from the apex; `None` where the tip would
    /// stand coronal to the trace.
    pub fn reach_mm(&self, file: &NominalFile, tip_mm: f64) -> Option<[f64; 2]> {
        let end = (tip_mm + file.working_part_mm()).min(self.apex_at_mm);
        (tip_mm < end).then_some([tip_mm, end])
    }

    /// The greatest strain of `file`, its diameters `offset_mm` from nominal,
    /// with the tip `tip_mm` from the apex. On a straight stretch 0 at the tip;
    /// bends shorter than [`SHORTEST_BEND_MM`] count as spread over that.
    pub fn peak(&self, file: &NominalFile, offset_mm: f64, tip_mm: f64) -> Option<Peak> {
        let [from, to] = self.reach_mm(file, tip_mm)?;
        let mut greatest = Peak {
            at_mm: from,
            strain: 0.0,
        };
        let stations = self.path.lengths_at_poses();
        let bends = self.bends();
        for (index, ends) in stations.windows(2).enumerate() {
            let Some(bend) = bends.iter().find(|bend| bend.contains(&index)) else {
                continue;
            };
            let inside = INSIDE * (ends[1] - ends[0]);
            let bend_length = stations[bend.end] - stations[bend.start];
            let spread = (bend_length / SHORTEST_BEND_MM).min(1.0);
            let [low, high] = [ends[1], ends[0]].map(|at| self.apex_at_mm - at);
            let (low, high) = (low.max(from), high.min(to));
            if low > high {
                continue;
            }
            let found = peak(low, high, |from_apex| {
                let at = self.at_mm(from_apex);
                let at = at.clamp(ends[0], (ends[1] - inside).max(ends[0]));
                let curvature = self.path.curvature_at_length(at);
                let diameter = file.diameter_mm(from_apex - tip_mm).unwrap_or(f64::NAN);
                surface_strain_at(diameter + offset_mm, spread * curvature)
            });
            if let Some(found) = found.filter(|found| found.strain > greatest.strain) {
                greatest = found;
            }
        }
        Some(greatest)
    }

    /// The working part every `step_mm` from the tip.
    pub fn profile(&self, file: &NominalFile, tip_mm: f64, step_mm: f64) -> Vec<BentPlace> {
        let Some([from, to]) = self.reach_mm(file, tip_mm) else {
            return Vec::new();
        };
        let count = ((to - from) / step_mm + 1e-9).floor().clamp(0.0, 1e4) as usize;
        let place = |k: usize| {
            let from_apex_mm = from + k as f64 * step_mm;
            let diameter_mm = file.diameter_mm(from_apex_mm - tip_mm)?;
            let curvature_per_mm = self.curvature_per_mm(from_apex_mm);
            Some(BentPlace {
                from_apex_mm,
                diameter_mm,
                curvature_per_mm,
                strain: surface_strain_at(diameter_mm, curvature_per_mm),
            })
        };
        (0..=count).filter_map(place).collect()
    }

    /// The bends: pieces one after another that turn to one side, coronal
    /// first. A smooth bend is a row of short arcs.
    fn bends(&self) -> Vec<Range<usize>> {
        let mut bends: Vec<Range<usize>> = Vec::new();
        let pieces = self.path.pieces();
        for (index, piece) in pieces.iter().enumerate() {
            let turn_rad = piece.turn_rad();
            if turn_rad.abs() < SMALLEST_TURN_RAD {
                continue;
            }
            match bends.last_mut() {
                Some(bend)
                    if bend.end == index && pieces[index - 1].turn_rad() * turn_rad > 0.0 =>
                {
                    bend.end = index + 1;
                }
                _ => bends.push(index..index + 1),
            }
        }
        bends
    }

    /// Bends so short that the points cannot tell their radius, `[end, start]`
    /// from the apex, mm, coronal first.
    pub fn kinks_mm(&self) -> Vec<[f64; 2]> {
        let turn_rad = |bend: &Range<usize>| -> f64 {
            let pieces = &self.path.pieces()[bend.clone()];
            pieces.iter().map(|piece| piece.turn_rad()).sum()
        };
        let bends = self.bends().into_iter().zip(self.bent_stretches_mm());
        bends
            .filter(|(bend, [end, start])| {
                start - end < SHORTEST_BEND_MM && turn_rad(bend).abs() >= LEAST_KINK_RAD
            })
            .map(|(_, stretch)| stretch)
            .collect()
    }

    /// Where the canal bends, `[end, start]` from the apex, mm, coronal first.
    pub fn bent_stretches_mm(&self) -> Vec<[f64; 2]> {
        let stations = self.path.lengths_at_poses();
        let stretch = |bend: Range<usize>| {
            [stations[bend.end], stations[bend.start]].map(|at| self.apex_at_mm - at)
        };
        self.bends().into_iter().map(stretch).collect()
    }

    /// Length of the working part that lies in any bend, mm.
    pub fn in_bend_mm(&self, file: &NominalFile, tip_mm: f64) -> f64 {
        let stretches = self.bent_stretches_mm();
        let parts = stretches
            .iter()
            .filter_map(|&[end, start]| part_in_bend(end, start, tip_mm, file.working_part_mm()));
        parts.map(|part: FilePart| part.length_mm()).sum()
    }
}
