//! Weights of the strip filters to try instead of those built in.

use std::path::PathBuf;

use clap::Args;
use lengthfilm::assist::strip::{Weights, try_weights};

#[derive(Args)]
pub struct StripTrial {
    /// Weights of the filter of tips to try instead of those built in.
    #[arg(long)]
    tip: Option<PathBuf>,
    /// The same of stops.
    #[arg(long)]
    stop: Option<PathBuf>,
    /// The same of courses.
    #[arg(long)]
    course: Option<PathBuf>,
}

impl StripTrial {
    pub fn begin(&self) {
        for (of, path) in [
            (Weights::Tip, &self.tip),
            (Weights::Stop, &self.stop),
            (Weights::Course, &self.course),
        ] {
            if let Some(path) = path {
                let bytes = std::fs::read(path).expect("the weights can be read");
                assert!(try_weights(of, bytes), "the weights are of another size");
            }
        }
    }
}
