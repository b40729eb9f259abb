//! Suggestions from the film: asked for by clicks, worked out beside the
//! window, put into the case as one step.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};
use std::time::{Duration, Instant};

use super::document::{self, Tool};
use super::engine::OpenFilm;
use crate::case::Case;
use crate::trace::{
    FollowOptions, FollowedPath, LocateOptions, LocatedFile, TraceError, follow, locate_file,
};
use crate::units::FilmPoint;

/// Work shorter than this shows no progress.
pub const QUIET_TIME: Duration = Duration::from_millis(200);

/// What clicks with an assisting tool have asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    pub tool: Tool,
    /// Canal that gets the suggestion.
    pub canal: usize,
    pub clicks: Vec<FilmPoint>,
}

/// Clicks that `tool` needs; 0 for tools that place points themselves.
pub fn clicks_needed(tool: Tool) -> usize {
    match tool {
        Tool::FindFile => 1,
        Tool::FollowCanal => 2,
        _ => 0,
    }
}

/// A request being worked on.
pub struct Running {
    cancel: Arc<AtomicBool>,
    percent: Arc<AtomicU8>,
    begun: Instant,
}

impl Running {
    /// Starts the clock of a request.
    pub fn begin() -> Self {
        Self {
            cancel: Arc::default(),
            percent: Arc::default(),
            begun: Instant::now(),
        }
    }

    /// Asks the work to stop; its result will not be used.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    /// The user has asked to stop.
    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    /// Progress in words once the work takes longer than [`QUIET_TIME`].
    pub fn progress_words(&self) -> Option<String> {
        let percent = self.percent.load(Ordering::Relaxed);
        (self.begun.elapsed() > QUIET_TIME).then(|| format!("Looking at the film: {percent} %"))
    }

    /// The work itself, for a thread of its own; `tell` is called whenever
    /// progress has been made.
    pub fn work(
        &self,
        request: Request,
        film: &OpenFilm,
        mm_per_px: Option<f64>,
        tell: impl Fn() + Send + Sync + 'static,
    ) -> impl FnOnce() -> Result<Suggestion, TraceError> + Send + 'static {
        let (cancel, percent) = (Arc::clone(&self.cancel), Arc::clone(&self.percent));
        let film = Arc::clone(&film.film);
        move || {
            let progress = |done: f64| {
                percent.store((done * 100.0) as u8, Ordering::Relaxed);
                tell();
            };
            let canal = request.canal;
            if let (Tool::FindFile, [near]) = (request.tool, &request.clicks[..]) {
                let options = LocateOptions { mm_per_px };
                locate_file(&film, *near, &options, &cancel, &progress)
                    .map(|found| Suggestion::File { canal, found })
            } else {
                let options = FollowOptions {
                    bright: false,
                    mm_per_px,
                };
                follow(&film, &request.clicks, &options, &cancel, &progress).map(|found| {
                    Suggestion::Canal {
                        canal,
                        found,
                        mm_per_px,
                    }
                })
            }
        }
    }
}

/// What the film was found to show.
#[derive(Clone, Debug)]
pub enum Suggestion {
    File {
        canal: usize,
        found: LocatedFile,
    },
    Canal {
        canal: usize,
        found: FollowedPath,
        /// Scale it was looked for with.
        mm_per_px: Option<f64>,
    },
}

impl Suggestion {
    /// Name of the step that puts it into the case.
    pub fn label(&self) -> &'static str {
        match self {
            Self::File { .. } => "Find file",
            Self::Canal { .. } => "Follow canal",
        }
    }

    /// Puts it into the case, marked as assisted.
    pub fn apply(&self, case: &mut Case) {
        match self {
            Self::File { canal, found } => {
                document::suggest_file(case, *canal, &found.points_px);
            }
            Self::Canal {
                canal,
                found,
                mm_per_px,
            } => {
                document::suggest_trace(case, *canal, &found.points_px, *mm_per_px);
            }
        }
    }

    /// What was found and how surely, for the status line.
    pub fn words(&self) -> String {
        let (what, confidence) = match self {
            Self::File { found, .. } => ("File", found.confidence),
            Self::Canal { found, .. } => ("Canal", found.mean_confidence),
        };
        format!("{what} suggested, {}", confidence_in_words(confidence))
    }
}

/// A confidence of 0..=1 in words. Below 0.5 the search itself rests on the
/// surroundings more than on the film.
fn confidence_in_words(confidence: f64) -> &'static str {
    match confidence {
        c if c >= 0.75 => "clearly seen",
        c if c >= 0.5 => "fairly seen: look at its ends",
        _ => "faintly seen: check every point",
    }
}

/// The suggestion last put into the case, until something else happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fresh {
    /// Revision of the case that it made.
    pub revision: u64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn confidence_is_graded_and_faint_below_one_half() {
        let words: Vec<&str> = [1.0, 0.75, 0.6, 0.49, 0.0, f64::NAN]
            .map(confidence_in_words)
            .to_vec();
        assert!(words[0].starts_with("clearly") && words[1] == words[0]);
        assert!(words[2].starts_with("fairly"));
        assert!(words[3..].iter().all(|w| w.starts_with("faintly")));
    }

    #[test]
    fn progress_is_told_only_of_work_longer_than_the_quiet_time() {
        let short = Running::begin();
        assert_eq!(short.progress_words(), None);
        let long = Running {
            begun: Instant::now()
                .checked_sub(QUIET_TIME + Duration::from_millis(1))
                .expect("the clock has run that long"),
            ..Running::begin()
        };
        long.percent.store(42, Ordering::Relaxed);
        assert_eq!(
            long.progress_words().as_deref(),
            Some("Looking at the film: 42 %")
        );
    }
}
