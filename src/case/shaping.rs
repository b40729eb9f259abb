//! What a case says about shaping a canal: its walls.

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
