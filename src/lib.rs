//! Lengthfilm measures root canals on dental periapical radiographs.
//!
//! The library holds all domain logic; the binary only parses arguments and
//! opens the window. Modules may use those listed before them, never after
//! (`tests` hold this order):
//!
//! `units` → `geometry` → `film`, `tooth` → `curvature`, `calibration`,
//! `trace`, `phantom`, `agreement` → `working_length`, `uncertainty` →
//! `case` → `measure` → `grading` → `report` → `cli`, `desktop`.

pub mod atomic_file;
pub mod calibration;
pub mod case;
#[cfg(feature = "desktop")]
pub mod desktop;
pub mod film;
pub mod measure;
pub mod tooth;
pub mod units;
pub mod working_length;
