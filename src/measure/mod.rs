//! From a case and its film to findings: every number, its uncertainty and
//! the warnings, in the shape of `measure --json`.

pub mod findings;
