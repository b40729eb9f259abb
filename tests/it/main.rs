//! Integration tests, one binary.

mod film;
mod film_bad_input;
mod film_real;
