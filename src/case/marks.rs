//! Marks by which two films of one object are brought over each other.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::units::FilmPoint;

/// A place that can be found on both films; matched by its name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Mark {
    /// The same on both films, for example `1`.
    pub name: String,
    /// Where it lies on this film.
    pub px: FilmPoint,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}
