//! `lengthfilm info FILM [--json]`

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::output::{CliError, print_json, print_text};
use crate::film::{self, OpenLimits};
use crate::film_check::{FilmSketch, film_remarks};

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
        let sketch = FilmSketch::of(&opened.film);
        let remarks = film_remarks(&sketch);
        if self.json {
            let mut facts = film::info_json(&opened);
            facts["film_check"] = json!({
                "noise": sketch.noise,
                "blur_px": sketch.blur_px,
                "clipped_share": sketch.clipped_elsewhere(),
                "unexposed_share": sketch.unexposed_share(),
                "remarks": remarks,
            });
            print_json(&facts)
        } else {
            let mut text = film::info_text(&opened);
            for remark in &remarks {
                text.push_str(&format!("  film check: {}\n", remark.text));
            }
            print_text(&text)
        }
    }
}
