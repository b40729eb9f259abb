//! Tests of the library and the commands, one binary.

mod agreement;
mod architecture;
mod assist;
mod case_file;
mod cli;
mod curvature;
mod difficulty;
mod distances;
mod feedback;
mod film;
mod film_bad_input;
mod film_real;
mod geometry;
mod grading;
mod instrumentation;
mod measure;
mod measure_uncertainty;
mod phantom;
mod practice;
mod report;
mod scale_checks;
mod support;
mod uncertainty;
