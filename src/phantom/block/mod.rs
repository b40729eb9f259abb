//! Practice blocks before and after shaping, with known truth.
//!
//! Frame `block`: mm on the block's face, x right, y down, the origin its top
//! left corner. The same block is photographed twice, each time from its own
//! place.

mod cases;
mod look;
mod look_families;
mod photo;
mod scan;
mod shape;
mod spec;
mod write;

pub use cases::{CANAL, end_mm, starting_case, true_case};
pub use look::{Blur, Dye, Grain, Jpeg, Light, Look, LookPart, Reflection, Shadow};
pub use photo::{BlockPhoto, View, photograph};
pub use scan::Scan;
pub use shape::{BlockTruth, LevelTruth};
pub use spec::{BlockGeometry, BlockSpec, FACE_MM, MARKS_MM, ShapingKind};
pub use write::{BlockFiles, write};
