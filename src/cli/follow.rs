//! `lengthfilm follow FILM --through X,Y --through X,Y … [--bright] [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json};
use super::point::parse_point;
use crate::assist::{FollowOptions, follow};
use crate::film::{self, OpenLimits};
use crate::progress::Progress;
use crate::units::FilmPoint;

#[derive(Debug, Args)]
pub struct Follow {
    /// Film to follow a canal on.
    film: PathBuf,
    /// A point on the canal, px; give two or more, orifice first.
    #[arg(long, required = true, value_name = "X,Y", value_parser = parse_point, allow_hyphen_values = true)]
    through: Vec<FilmPoint>,
    /// Follow something bright, such as an instrument or a filling.
    #[arg(long)]
    bright: bool,
    /// True mm per px, where known; else taken from the film, else assumed.
    #[arg(long, value_name = "MM")]
    mm_per_px: Option<f64>,
    /// Print JSON (the only form there is).
    #[arg(long)]
    json: bool,
}

impl Follow {
    /// Follows the canal and prints its points.
    pub fn run(self) -> Result<(), CliError> {
        let opened = film::open(&self.film, &OpenLimits::default()).map_err(CliError::input)?;
        let options = FollowOptions {
            bright: self.bright,
            mm_per_px: self.mm_per_px.or_else(|| opened.scale.mean_pitch_mm()),
        };
        let path = follow(
            &opened.film,
            &self.through,
            &options,
            &Progress::unwatched(),
        );
        print_json(&path.map_err(|e| CliError::at(&self.film, e))?)
    }
}
