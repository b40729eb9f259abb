//! Files in a curved canal: how far a nominal file's surface is bent where,
//! where it touches the walls, and the card that shaping is done by.
//!
//! Everything is plain geometry of nominal files. It compares files in one
//! canal; it predicts nothing about how a file behaves.

mod assembly;
mod assess;
mod axis;
mod bend;
mod card;
mod case_files;
mod colour;
mod contact;
mod draws;
mod file_request;
mod findings;
mod in_space;
mod nominal;
mod strain;
mod text;
mod walls;
pub mod words;

pub use crate::geometry::{WidthError, WidthProfile};
pub use assess::{AssessError, Assessment, Options, assess, assess_file, assess_measured};
pub use axis::{BentPlace, CanalAxis};
pub use bend::{FilePart, part_in_bend};
pub use card::{Level, ShapedLevel, diameter_left_mm, levels_mm, shaped_mm};
pub use case_files::{in_case, to_case};
pub use colour::{IsoColour, STANDARD_SIZES, StandardSize, colour_of, tip_tolerance_mm};
pub use contact::{Contact, passive_depth};
pub use file_request::FileRequest;
pub use findings::{
    BendFinding, Binds, CanalInstruments, CardLine, CourseFrom, FileFinding, InstrumentFindings,
    LevelFinding, PartFinding, ProfilePoint, ShapedFinding, ThirdFinding,
};
pub use in_space::InSpace;
pub use nominal::{FileError, NominalFile, WORKING_PART_MM};
pub use strain::{
    Peak, peak, strain_from_inner_wall, strain_from_outer_wall, surface_strain, surface_strain_at,
};
pub use text::findings_text;
