//! Integration tests, one module per part of the program.

mod film;
mod report;
