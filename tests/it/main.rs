//! Tests of the library and the commands, one binary.

mod architecture;
mod film;
