//! A block of an exercise set whose truth is known, beside what was measured.

use crate::phantom::block::{BlockTruth, ShapingKind};
use crate::shaping::{CanalShaping, LevelFinding};
use crate::units::Quantity;

/// Levels nearer to either end of the true canal than this are not compared,
/// mm: there the walls end (our own limit).
const ENDS_MM: f64 = 1.0;

/// What a block truly shows, and how far the student's traces end from it.
#[derive(Clone, Debug)]
pub struct TrueBlock {
    pub truth: BlockTruth,
    /// Distance of the traces' ends from the canal's end, the greater of both
    /// pictures; `None` where one has no trace.
    pub end_error_mm: Option<f64>,
}

impl TrueBlock {
    /// Root mean square error of the widths before and after.
    pub fn width_error_mm(&self, canal: &CanalShaping) -> Option<f64> {
        let errors = self.levels(canal).flat_map(|level| {
            let truth = self.truth.level(level.from_end_mm);
            [
                off(level.width_before_mm, truth.width_before_mm),
                off(level.width_after_mm, truth.width_after_mm),
            ]
        });
        root_mean_square(errors.flatten())
    }

    /// Root mean square error of the transport.
    pub fn transport_error_mm(&self, canal: &CanalShaping) -> Option<f64> {
        let errors = self.levels(canal).filter_map(|level| {
            let truth = self.truth.level(level.from_end_mm);
            off(level.transport_mm, truth.transport_mm)
        });
        root_mean_square(errors)
    }

    /// Zips that the preparation has left.
    pub fn zips(&self) -> f64 {
        match self.truth.spec().shaping {
            ShapingKind::Zip => 1.0,
            _ => 0.0,
        }
    }

    fn levels<'a>(&self, canal: &'a CanalShaping) -> impl Iterator<Item = &'a LevelFinding> {
        let within = ENDS_MM..=self.truth.path().length() - ENDS_MM;
        let levels = canal.levels.iter();
        levels.filter(move |level| within.contains(&level.from_end_mm))
    }
}

fn off(found: Option<Quantity>, truth: f64) -> Option<f64> {
    found.map(|found| found.value - truth)
}

fn root_mean_square(errors: impl Iterator<Item = f64>) -> Option<f64> {
    let squares: Vec<f64> = errors.map(|error| error * error).collect();
    let count = squares.len() as f64;
    (count > 0.0).then(|| (squares.iter().sum::<f64>() / count).sqrt())
}
