//! `lengthfilm suggest FILM [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json};
use crate::assist::suggest;
use crate::film::{self, OpenLimits};
use crate::progress::Progress;

#[derive(Debug, Args)]
pub struct Suggest {
    /// Film to look at.
    film: PathBuf,
    /// True mm per px, where known; else taken from the film, else assumed.
    #[arg(long, value_name = "MM")]
    mm_per_px: Option<f64>,
    /// Print JSON (the only form there is).
    #[arg(long)]
    json: bool,
}

impl Suggest {
    /// Prints the files, roots and canals found, surest first.
    pub fn run(self) -> Result<(), CliError> {
        let opened = film::open(&self.film, &OpenLimits::default()).map_err(CliError::input)?;
        let mm_per_px = self.mm_per_px.or_else(|| opened.scale.mean_pitch_mm());
        let found = suggest(&opened.film, mm_per_px, &Progress::unwatched());
        print_json(&found.map_err(|e| CliError::at(&self.film, e))?)
    }
}
