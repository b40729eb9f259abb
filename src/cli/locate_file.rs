//! `lengthfilm locate-file FILM --near X,Y [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json};
use super::point::parse_point;
use crate::assist::{LocateOptions, locate_file};
use crate::film::{self, OpenLimits};
use crate::progress::Progress;
use crate::units::FilmPoint;

#[derive(Debug, Args)]
pub struct LocateFile {
    /// Film with a file in a canal.
    film: PathBuf,
    /// A point anywhere on the file's shank, px.
    #[arg(long, value_name = "X,Y", value_parser = parse_point, allow_hyphen_values = true)]
    near: FilmPoint,
    /// True mm per px, where known; else taken from the film, else assumed.
    #[arg(long, value_name = "MM")]
    mm_per_px: Option<f64>,
    /// Print JSON (the only form there is).
    #[arg(long)]
    json: bool,
}

impl LocateFile {
    /// Finds the file and prints its stop, its tip and its centre line.
    pub fn run(self) -> Result<(), CliError> {
        let opened = film::open(&self.film, &OpenLimits::default()).map_err(CliError::input)?;
        let options = LocateOptions {
            mm_per_px: self.mm_per_px.or_else(|| opened.scale.mean_pitch_mm()),
        };
        let file = locate_file(&opened.film, self.near, &options, &Progress::unwatched());
        print_json(&file.map_err(|e| CliError::at(&self.film, e))?)
    }
}
