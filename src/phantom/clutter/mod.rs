//! What real films show besides a tidy tooth: metal, fillings, marks, edges,
//! textures, noise and processing. Each is absent unless asked for.

mod bone;
mod check;
mod clamp;
mod marks;
mod noise;
mod plate;
mod processing;
mod shadow;
mod skull;
mod stop;
mod work;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::parts::{CanalSpec, FileSpec};

pub use bone::BoneTexture;
pub use clamp::{ClampForm, ClampSpec};
pub use marks::MarkSpec;
pub use noise::{NoiseSpec, NoiseSpectrum};
pub use plate::{PlateSpec, Unexposed};
pub use processing::{Processing, ResponseCurve};
pub use skull::ZygomaSpec;
pub use stop::{StopForm, StopSpec};
pub use work::{CrownWork, CrownWorkKind, RootFilling};

pub(super) use bone::Bone;
pub(super) use check::bounds;
pub(super) use clamp::clamp_shadows;
pub(super) use marks::draw_marks;
pub(super) use noise::add_noise;
pub(super) use plate::ExposedArea;
pub(super) use processing::{processed, responded};
pub(super) use shadow::Shadow;
pub(super) use skull::zygoma_shadows;
pub(super) use stop::stop_solids;
pub(super) use work::{crown_shadows, filling_share};

/// A further file, in the treated tooth's other canal or in a second canal of
/// the same root.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SecondFile {
    /// The file; its stop rests at the height of the reference point.
    pub file: FileSpec,
    /// Absent: the molar's other root. Present: a second canal that starts
    /// this far aside, mm, and is turned by this angle, degrees.
    pub beside: Option<SecondCanal>,
}

/// A second canal of the treated root.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SecondCanal {
    /// The canal; its path starts at the shifted reference point.
    pub canal: CanalSpec,
    /// Shift across, in the mid-plane, mm.
    pub shift_mm: f64,
    /// Turn in the mid-plane about its start, degrees, clockwise.
    pub turn_deg: f64,
}

/// A root of another tooth seen through the treated one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OverlappingRoot {
    /// Shift of its axis across, at the neck, mm.
    pub shift_mm: f64,
    /// Turn in the mid-plane, degrees, clockwise.
    pub turn_deg: f64,
    /// Half width at the neck, mm.
    pub half_width_mm: f64,
    /// Neck → apex, mm.
    pub length_mm: f64,
}

/// Everything that makes a film hard to read; the default is nothing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Clutter {
    /// A rubber-dam clamp.
    pub clamp: Option<ClampSpec>,
    /// Further files.
    pub second_files: Vec<SecondFile>,
    /// Root fillings and posts in canals that hold no file.
    pub root_fillings: Vec<RootFilling>,
    /// Crowns and restorations.
    pub crown_work: Vec<CrownWork>,
    /// A root of another tooth over the treated one.
    pub overlapping_root: Option<OverlappingRoot>,
    /// The zygoma and the floor of the sinus.
    pub zygoma: Option<ZygomaSpec>,
    /// What of the plate was exposed.
    pub plate: PlateSpec,
    /// Scratches, dust, letters, a burned-in ruler.
    pub marks: MarkSpec,
    /// Texture of the bone.
    pub bone: BoneTexture,
    /// Noise besides the quanta.
    pub noise: Vec<NoiseSpec>,
    /// What the reader's software did to the picture.
    pub processing: Processing,
    /// Form of the stops.
    pub stop: StopSpec,
}

impl Clutter {
    /// Nothing of all this.
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}
