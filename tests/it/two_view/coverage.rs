//! The stated intervals on a few phantom pairs; the full table is made by the
//! program `two_view_coverage` (docs/two-views.md).

#[path = "../../programs/two_view_study.rs"]
#[allow(dead_code)]
mod study;
