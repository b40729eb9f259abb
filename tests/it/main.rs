//! Tests of the library and the commands, one binary.

mod agreement;
mod architecture;
mod distances;
mod film;
mod report;
mod film_bad_input;
mod film_real;
mod uncertainty;
