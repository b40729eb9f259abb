//! What a phantom film shows: every dimension settable.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::clutter::Clutter;
use super::parts::{
    Appearance, BallSpec, CanalKind, CanalSpec, DetectorSpec, FileSpec, RulerSpec, ToothSpec,
    ViewSpec,
};

/// One phantom film, complete: the same spec gives the same film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PhantomSpec {
    /// Seed of the quantum noise.
    pub seed: u64,
    /// Family the canal was drawn from.
    pub kind: CanalKind,
    /// The canal.
    pub canal: CanalSpec,
    /// The tooth.
    pub tooth: ToothSpec,
    /// The file in the canal, if any.
    pub file: Option<FileSpec>,
    /// A ball for the scale, if any.
    pub ball: Option<BallSpec>,
    /// A ruler for the scale, if any.
    pub ruler: Option<RulerSpec>,
    /// Geometry of the exposure.
    pub view: ViewSpec,
    /// The detector.
    pub detector: DetectorSpec,
    /// Patient and film appearance.
    pub look: Appearance,
    /// What makes the film hard to read.
    #[serde(skip_serializing_if = "Clutter::is_none")]
    pub clutter: Clutter,
}

impl Default for PhantomSpec {
    fn default() -> Self {
        Self {
            seed: 1,
            kind: CanalKind::Single,
            canal: CanalSpec::default(),
            tooth: ToothSpec::default(),
            file: Some(FileSpec::default()),
            ball: None,
            ruler: None,
            view: ViewSpec::default(),
            detector: DetectorSpec::default(),
            look: Appearance::default(),
            clutter: Clutter::default(),
        }
    }
}
