//! The scale that an earlier film of the same patient gave.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// The scale of an earlier film, taken over on the assumption that patient,
/// receptor, resolution and geometry (holder) are the same.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EarlierFilm {
    /// Path of its case, relative to this case's folder or absolute: to look it
    /// up, it is not read again.
    pub case: String,
    /// True mm per px in the tooth's plane there.
    pub mm_per_px: f64,
    /// Its standard uncertainty.
    pub u_mm_per_px: f64,
    /// What that scale rested on, in words, for example `file in canal MB`.
    pub basis: String,
    /// Columns and rows of the earlier film.
    pub size_px: [u32; 2],
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl EarlierFilm {
    /// Whether a film of that many columns and rows can be of the same receptor
    /// and resolution, perhaps a quarter turned.
    pub fn has_size_of(&self, [width, height]: [u32; 2]) -> bool {
        let [w, h] = self.size_px;
        [w, h] == [width, height] || [h, w] == [width, height]
    }
}
