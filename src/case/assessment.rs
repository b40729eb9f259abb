//! What the clinician enters for the case difficulty assessment.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::curvature::DifficultyClass;

/// Entries of the assessment form. What is measured is not stored.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CaseAssessment {
    /// Class by key of the form's row, for example `"rotation": "low"`; wins
    /// over what was measured. The keys are listed in docs/case-format.md.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub rows: BTreeMap<String, DifficultyClass>,
    /// Canals of this case that belong to the neighbouring tooth: its axis is
    /// what the tooth's inclination is read against.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub neighbour_canals: Vec<String>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl CaseAssessment {
    /// Nothing was entered.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
