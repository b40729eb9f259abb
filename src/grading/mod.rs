//! Comparing traces of one canal with a reference.

pub mod consensus;
pub mod distances;
pub mod frechet;
pub mod path;
