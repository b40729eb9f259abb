//! `lengthfilm follow FILM --through X,Y --through X,Y … [--bright] [--json]`

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::output::{CliError, print_json};
use super::point::parse_point;
use crate::assist::{AssistError, FollowOptions, FollowedPath, follow};
use crate::case::Canal;
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
    /// Name of the canal in `canal`.
    #[arg(long, value_name = "NAME", default_value = "1")]
    name: String,
    /// Print JSON (the only form there is).
    #[arg(long)]
    json: bool,
}

/// What the command prints.
#[derive(Serialize)]
struct Output {
    #[serde(flatten)]
    path: FollowedPath,
    /// Ready to be put into the `canals` of a case.
    canal: Canal,
}

impl Follow {
    /// Follows the canal and prints its points.
    pub fn run(self) -> Result<(), CliError> {
        let opened = film::open(&self.film, &OpenLimits::default()).map_err(CliError::input)?;
        let options = FollowOptions {
            bright: self.bright,
            mm_per_px: self.mm_per_px.or_else(|| opened.scale.mean_pitch_mm()),
        };
        let path = within(LONGEST_SEARCH, |cancel| {
            let progress = Progress::new(cancel, &|_, _| {});
            follow(&opened.film, &self.through, &options, &progress)
        });
        match path {
            Ok(path) => print_json(&Output {
                canal: path.canal(&self.name),
                path,
            }),
            Err(AssistError::Cancelled) => Err(CliError::at(
                &self.film,
                format!(
                    "no path within {} s; check the true mm per px (--mm-per-px) and the points",
                    LONGEST_SEARCH.as_secs()
                ),
            )),
            Err(error) => Err(CliError::at(&self.film, error)),
        }
    }
}

/// A path takes a second at most; only a scale that is far off, with which the
/// canal would be wider than the film, takes longer.
const LONGEST_SEARCH: Duration = Duration::from_secs(30);

/// Runs `work` and cancels it when it has not ended in time.
fn within<T>(most: Duration, work: impl FnOnce(&AtomicBool) -> T) -> T {
    let cancel = AtomicBool::new(false);
    let (done, is_done) = std::sync::mpsc::channel::<()>();
    std::thread::scope(|scope| {
        let cancel = &cancel;
        scope.spawn(move || {
            if is_done.recv_timeout(most) == Err(RecvTimeoutError::Timeout) {
                cancel.store(true, Ordering::Relaxed);
            }
        });
        let result = work(cancel);
        // Ends the wait at once.
        drop(done);
        result
    })
}
