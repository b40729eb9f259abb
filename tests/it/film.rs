//! Films.
