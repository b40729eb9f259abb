//! The second film of a case: where its own case is, and how it was taken.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// A second film of the same tooth, with a case of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SecondFilm {
    /// Path of its case file, relative to this case's folder or absolute.
    pub case: String,
    /// Angle from this film to it, degrees: it shows x·cosΔ + y·sinΔ of a
    /// place x aside and y towards the source.
    pub angle_deg: f64,
    /// Half width of that angle's uncertainty, degrees; absent: 3.5.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub angle_half_width_deg: Option<f64>,
    /// What happened to the receptor between the exposures.
    #[serde(default)]
    pub receptor: Receptor,
    /// What lies to the right on this film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub right_is: Option<RightOfFilm>,
    /// What lies towards the source of this film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source_is: Option<SourceSide>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// What happened to the receptor between two exposures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Receptor {
    /// It turned with the tube about the tooth, as in a holder, or the tooth
    /// was turned before both.
    #[default]
    Turned,
    /// It stayed parallel to the tooth; the tube moved.
    Stayed,
}

/// The side of the tooth to the right on a film.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RightOfFilm {
    Mesial,
    Distal,
}

/// The side of the tooth towards the source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SourceSide {
    Buccal,
    Lingual,
}

impl Receptor {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Turned => "receptor turned with the tube",
            Self::Stayed => "receptor stayed, tube moved",
        }
    }
}
