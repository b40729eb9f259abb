//! What shaping did to a canal: two films of one canal, or two photographs of
//! one practice block, before and after (docs/before-after.md).
//!
//! Marks placed on both pictures bring one over the other; the walls of the
//! canal, before and after, are then cut by sections normal to the canal's
//! centre line before. Every number carries what clicks, registration and
//! scale leave open.

mod aberrations;
mod bends;
mod centre_line;
mod compare;
mod csv;
mod edge_doubt;
mod error;
mod findings;
mod follow;
mod levels;
mod match_marks;
mod measures;
mod model;
mod pair;
mod picture;
mod registration_words;
mod section_fit;
mod sections;
mod settings;
mod text;

pub use aberrations::{Aberration, AberrationKind, Profile, ProfilePoint, find_aberrations};
pub use bends::length_explained_mm;
pub use centre_line::{CentreLine, Station};
pub use compare::{Comparison, compare, compare_files, compare_opened, compare_watched};
pub use csv::csv;
pub use error::{FollowError, ShapingError};
pub use findings::{
    AberrationFinding, CanalShaping, CurveShaping, LevelFinding, RegistrationFinding,
    ShapingFindings,
};
pub use follow::{FollowedWalls, follow_walls, follow_walls_of};
pub use match_marks::{MatchedMarks, match_marks, match_marks_of};
pub use measures::{Removal, Side, centring_ratio, movement_ratio, transport};
pub use model::{WallErrors, WallSet};
pub use pair::Pair;
pub use picture::{Picture, open_picture};
pub use sections::{Section, WallCurve};
pub use settings::{AberrationLimits, ShapingSettings};
pub use text::{findings_text, method_name};
