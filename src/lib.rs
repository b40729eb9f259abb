//! Lengthfilm measures root canals on dental periapical radiographs.
//!
//! The library holds all domain logic; the binary only parses arguments and
//! opens the window. Modules may use those listed before them, never after
//! (`tests` hold this order):
//!
//! `units`, `statistics` → `geometry` → `film`, `tooth` → `curvature`, `calibration`,
//! `trace`, `phantom`, `agreement` → `working_length`, `uncertainty` →
//! `case` → `measure` → `grading` → `cautions`, `report` → `cli`, `desktop`.

pub mod agreement;
pub mod atomic_file;
pub mod calibration;
pub mod case;
pub mod cautions;
pub mod cli;
pub mod curvature;
#[cfg(feature = "desktop")]
pub mod desktop;
pub mod film;
pub mod geometry;
pub mod grading;
pub mod measure;
pub mod phantom;
pub mod report;
pub mod statistics;
pub mod tooth;
pub mod trace;
pub mod uncertainty;
pub mod units;
pub mod working_length;
