//! Integration tests, one binary.

mod film;
