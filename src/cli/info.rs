//! `lengthfilm info FILM [--json]`

use std::path::PathBuf;

use clap::Args;

use super::output::{CliError, print_json, print_text};
use crate::film::{self, OpenLimits};

#[derive(Debug, Args)]
pub struct Info {
    /// Film: PNG, JPEG, TIFF, BMP or DICOM.
    film: PathBuf,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Largest film decoded, megapixels.
    #[arg(long, default_value_t = 200, value_name = "MEGAPIXELS")]
    limit: u32,
}

impl Info {
    /// Opens the film and prints what its file says.
    pub fn run(self) -> Result<(), CliError> {
        let limits = OpenLimits {
            max_pixels: u64::from(self.limit) * 1_000_000,
        };
        let opened = film::open(&self.film, &limits).map_err(CliError::input)?;
        if self.json {
            print_json(&film::info_json(&opened))
        } else {
            print_text(&film::info_text(&opened))
        }
    }
}
