//! Points in the film frame, and the number-with-uncertainty every result uses.
//!
//! Frames (docs/methods.md 1): *film* is px with x right, y down, (0, 0) the outer
//! corner of the first pixel and pixel centres at +0.5; *tooth* is mm. A
//! [`FilmPoint`] is px by type; a [`kurbo::Point`] in this crate is in mm
//! (tooth frame) unless its name ends in `_px`. Only a calibration turns one
//! into the other, so px and mm cannot be mixed by accident.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A place on the original raster in px, film frame. JSON: `[x, y]`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
#[schemars(with = "[f64; 2]")]
pub struct FilmPoint {
    /// px to the right of the raster's left edge.
    pub x: f64,
    /// px below the raster's top edge.
    pub y: f64,
}

impl FilmPoint {
    /// The point (`x`, `y`) in px.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Straight distance in px.
    pub fn distance_px(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// Both coordinates are finite numbers.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl From<[f64; 2]> for FilmPoint {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<FilmPoint> for [f64; 2] {
    fn from(p: FilmPoint) -> Self {
        [p.x, p.y]
    }
}

/// A result with its expanded uncertainty: the true value is held to lie
/// within `value ± u95` in 95 % of cases (JCGM 100, 6.2).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quantity {
    /// Best estimate, in the unit its key's suffix names.
    pub value: f64,
    /// Half width of the 95 % interval, same unit.
    pub u95: f64,
}
