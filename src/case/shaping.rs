//! What a case says about shaping a canal: its walls, and the files meant for
//! it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::units::FilmPoint;

/// The two walls of a canal as the film shows them. Left and right as seen
/// from the orifice towards the apex.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Walls {
    /// Left wall, orifice → apex.
    pub left_px: Vec<FilmPoint>,
    /// Right wall, orifice → apex.
    pub right_px: Vec<FilmPoint>,
    /// Standard uncertainty of a point across the wall where the walls were
    /// followed on the film; absent: that of a click.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u_px: Option<f64>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// A side of a canal, as seen from the orifice towards the apex.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WallSide {
    Left,
    Right,
}

impl WallSide {
    /// Both, in the order of the case file.
    pub const BOTH: [Self; 2] = [Self::Left, Self::Right];

    /// `left` or `right`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

impl Walls {
    /// The wall on that side.
    pub fn side(&self, side: WallSide) -> &[FilmPoint] {
        match side {
            WallSide::Left => &self.left_px,
            WallSide::Right => &self.right_px,
        }
    }

    /// The same, to be changed.
    pub fn side_mut(&mut self, side: WallSide) -> &mut Vec<FilmPoint> {
        match side {
            WallSide::Left => &mut self.left_px,
            WallSide::Right => &mut self.right_px,
        }
    }
}

/// A file that a canal is to be shaped with, by its nominal geometry.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShapingFile {
    /// Nominal size: tip diameter in hundredths of a millimetre. Absent where
    /// `diameters_mm` are given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<f64>,
    /// Taper, mm of diameter per mm of length: 0.06 for a file 25/.06.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taper: Option<f64>,
    /// Length of the working part, mm; absent: 16.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub working_part_mm: Option<f64>,
    /// Variable taper: pairs `[from the tip, diameter]`, mm, tip first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameters_mm: Option<Vec<[f64; 2]>>,
    /// How far short of the working length it is set, mm.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub step_back_mm: f64,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

fn is_zero(value: &f64) -> bool {
    *value == 0.0
}
