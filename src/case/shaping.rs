//! What a case says about shaping a canal: its walls, and the files meant for
//! it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::statistics::quantile;
use crate::units::FilmPoint;

/// Points that were read on the film and lie farther apart than so many of the
/// usual distances have nothing that was seen between them: four readings in a row
/// are missing.
const LONGEST_GAP: f64 = 4.5;

/// The two walls of a canal as the film shows them. Left and right as seen
/// from the orifice towards the apex.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Walls {
    /// Left wall, orifice → apex.
    pub left_px: Vec<FilmPoint>,
    /// Right wall, orifice → apex.
    pub right_px: Vec<FilmPoint>,
    /// Standard uncertainty of every point across the wall where all are as well
    /// known; absent: that of a click, or of each as `followed` says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u_px: Option<f64>,
    /// What the film says of each point where the walls were followed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub followed: Option<WallReadings>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// Readings of both walls.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WallReadings {
    /// Left wall.
    pub left: WallReading,
    /// Right wall.
    pub right: WallReading,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// How well each point of a followed wall was read, point by point.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WallReading {
    /// Standard uncertainty across the wall that no other point shares, px; null:
    /// the point was placed by hand.
    pub u_px: Vec<Option<f64>>,
    /// Standard uncertainty across the wall that its neighbours share, px.
    pub common_u_px: Vec<f64>,
    /// Way along the wall over which that is shared, px.
    pub common_over_px: f64,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// Standard uncertainty of a point that was read, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadPoint {
    /// That no other point shares.
    pub own_px: f64,
    /// That its neighbours share.
    pub common_px: f64,
}

impl WallReadings {
    /// Those of one side.
    pub fn side(&self, side: WallSide) -> &WallReading {
        match side {
            WallSide::Left => &self.left,
            WallSide::Right => &self.right,
        }
    }

    fn side_mut(&mut self, side: WallSide) -> &mut WallReading {
        match side {
            WallSide::Left => &mut self.left,
            WallSide::Right => &mut self.right,
        }
    }
}

impl WallReading {
    fn point(&self, index: usize) -> Option<ReadPoint> {
        let own_px = (*self.u_px.get(index)?)?;
        let common_px = self.common_u_px.get(index).copied().unwrap_or(0.0);
        Some(ReadPoint { own_px, common_px })
    }
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

    /// How well a point was read; `None` where it was placed by hand.
    pub fn read_point(&self, side: WallSide, index: usize) -> Option<ReadPoint> {
        match (&self.followed, self.u_px) {
            (Some(followed), _) => followed.side(side).point(index),
            (None, Some(own_px)) => Some(ReadPoint {
                own_px,
                common_px: 0.0,
            }),
            (None, None) => None,
        }
    }

    /// What a point has in common with the one `away_px` along the wall: 1 all
    /// of it, 0 nothing.
    pub fn common_share(&self, side: WallSide, away_px: f64) -> f64 {
        let over = self.followed.as_ref().map(|f| f.side(side).common_over_px);
        match over {
            Some(over_px) if over_px > 0.0 => (-away_px / over_px).exp(),
            _ => 0.0,
        }
    }

    /// Standard uncertainty of each point where many are taken together as if
    /// none shared anything, px: what neighbours share counts for as many points
    /// as it reaches over. `None`: placed by hand.
    pub fn independent_u_px(&self, side: WallSide) -> Vec<Option<f64>> {
        let points = self.side(side);
        let apart = |index: usize| {
            let (from, to) = (index.saturating_sub(1), (index + 1).min(points.len() - 1));
            points[from].distance_px(points[to]) / (to - from).max(1) as f64
        };
        let of_point = |index: usize| {
            let read = self.read_point(side, index)?;
            let shared = self.common_share(side, apart(index)).min(0.99);
            let common = read.common_px * ((1.0 + shared) / (1.0 - shared)).sqrt();
            Some(read.own_px.hypot(common))
        };
        (0..points.len()).map(of_point).collect()
    }

    /// Of each stretch between two of a wall's points, whether nothing was seen
    /// there: both were read, and too far from each other. Empty where no point
    /// was read.
    pub fn unseen(&self, side: WallSide) -> Vec<bool> {
        if self.followed.is_none() && self.u_px.is_none() {
            return Vec::new();
        }
        let is_read = |index: usize| self.read_point(side, index).is_some();
        let pairs = self.side(side).windows(2).enumerate();
        let apart: Vec<Option<f64>> = pairs
            .map(|(index, pair)| {
                (is_read(index) && is_read(index + 1)).then(|| pair[0].distance_px(pair[1]))
            })
            .collect();
        // Readings are missing here and there: the usual distance is a short one.
        let mut known: Vec<f64> = apart.iter().copied().flatten().collect();
        let usual = quantile(&mut known, 0.25).unwrap_or(f64::INFINITY);
        let is_gap = |px: Option<f64>| px.is_some_and(|px| px > LONGEST_GAP * usual);
        apart.into_iter().map(is_gap).collect()
    }

    /// The same, to be changed.
    pub fn side_mut(&mut self, side: WallSide) -> &mut Vec<FilmPoint> {
        match side {
            WallSide::Left => &mut self.left_px,
            WallSide::Right => &mut self.right_px,
        }
    }

    /// A point is moved by hand: the hand knows better than the film.
    pub fn forget_reading(&mut self, side: WallSide, index: usize) {
        self.u_px = None;
        let reading = self.followed.as_mut().map(|f| f.side_mut(side));
        if let Some(u_px) = reading.and_then(|r| r.u_px.get_mut(index)) {
            *u_px = None;
        }
    }

    /// Puts a point placed by hand among those of a wall.
    pub fn insert(&mut self, side: WallSide, index: usize, at: FilmPoint) {
        self.side_mut(side).insert(index, at);
        self.u_px = None;
        if let Some(followed) = &mut self.followed {
            let reading = followed.side_mut(side);
            if index <= reading.u_px.len().min(reading.common_u_px.len()) {
                reading.u_px.insert(index, None);
                reading.common_u_px.insert(index, 0.0);
            }
        }
    }

    /// Takes a point away.
    pub fn remove(&mut self, side: WallSide, index: usize) {
        self.side_mut(side).remove(index);
        if let Some(followed) = &mut self.followed {
            let reading = followed.side_mut(side);
            if index < reading.u_px.len().min(reading.common_u_px.len()) {
                reading.u_px.remove(index);
                reading.common_u_px.remove(index);
            }
        }
    }

    /// Draws a wall the other way round.
    pub fn reverse(&mut self, side: WallSide) {
        self.side_mut(side).reverse();
        if let Some(followed) = &mut self.followed {
            let reading = followed.side_mut(side);
            reading.u_px.reverse();
            reading.common_u_px.reverse();
        }
    }

    /// Exchanges left and right.
    pub fn exchange(&mut self) {
        std::mem::swap(&mut self.left_px, &mut self.right_px);
        if let Some(followed) = &mut self.followed {
            std::mem::swap(&mut followed.left, &mut followed.right);
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
