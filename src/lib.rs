//! Lengthfilm measures root canals on dental periapical radiographs.
//!
//! The library holds all domain logic; the binary only parses arguments and
//! opens the window. Modules may use those of their own group and the groups before it, never after
//! (`tests` hold this order):
//!
//! `units`, `tooth`, `statistics`, `cautions`, `progress`, `clock` → `geometry`, `registration` →
//! `film` → `film_check`, `curvature`, `calibration`, `agreement`, `uncertainty`, `flatten`,
//! `archive` → `assessment` → `case`, `working_length`, `learning` → `assist`, `phantom`,
//! `measure` → `two_view` →
//! `grading`, `instrumentation`, `shaping` → `report`, `shaping_class` → `feedback`,
//! `shaping_record` → `practice` → `cli`, `desktop`.

pub mod agreement;
pub mod archive;
pub mod assessment;
pub mod assist;
pub mod atomic_file;
pub mod calibration;
pub mod case;
pub mod cautions;
pub mod cli;
pub mod clock;
pub mod curvature;
#[cfg(feature = "desktop")]
pub mod desktop;
pub mod feedback;
pub mod film;
pub mod film_check;
pub mod flatten;
pub mod geometry;
pub mod grading;
pub mod input_file;
pub mod instrumentation;
pub mod learning;
pub mod measure;
pub mod one_line;
pub mod phantom;
pub mod practice;
pub mod progress;
pub mod registration;
pub mod report;
pub mod shaping;
pub mod shaping_class;
pub mod shaping_record;
pub mod spreadsheet;
pub mod statistics;
pub mod tooth;
pub mod two_view;
pub mod uncertainty;
pub mod units;
pub mod working_length;
