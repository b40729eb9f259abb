//! Suggestions from the film: asked for by clicks, worked out beside the
//! window, put into the case as one step.

use std::sync::Arc;

use super::long_job::LongJob;
use super::open_film::OpenFilm;
use crate::assist::{
    AssistError, FollowOptions, FollowedPath, LocateOptions, LocatedFile, follow, locate_file,
};
use crate::case::Case;
use crate::case::edit::{self, Tool};
use crate::units::FilmPoint;

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

impl Request {
    /// The work itself, for a thread of its own, which `job` watches and stops;
    /// `wake` is called whenever progress has been made.
    pub fn work(
        self,
        job: LongJob,
        film: &OpenFilm,
        mm_per_px: Option<f64>,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> impl FnOnce() -> Result<Suggestion, AssistError> + Send + 'static {
        let film = Arc::clone(&film.film);
        let canal = self.canal;
        move || {
            job.watched(wake, |progress| {
                if let (Tool::FindFile, [near]) = (self.tool, &self.clicks[..]) {
                    let options = LocateOptions { mm_per_px };
                    return locate_file(&film, *near, &options, progress)
                        .map(|found| Suggestion::File { canal, found });
                }
                let options = FollowOptions {
                    bright: false,
                    mm_per_px,
                };
                follow(&film, &self.clicks, &options, progress).map(|found| Suggestion::Canal {
                    canal,
                    found,
                    mm_per_px,
                })
            })
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
                if found.stop_px.is_some() {
                    edit::suggest_file(case, *canal, &found.points_px);
                } else {
                    edit::suggest_tip(case, *canal, found.tip_px);
                }
            }
            Self::Canal {
                canal,
                found,
                mm_per_px,
            } => {
                edit::suggest_trace(case, *canal, &found.points_px, found.followed(), *mm_per_px);
            }
        }
    }

    /// What was found and how surely, for the status line.
    pub fn words(&self) -> String {
        let (what, confidence) = match self {
            Self::File { found, .. } => ("File", found.confidence),
            Self::Canal { found, .. } => ("Canal", found.mean_confidence),
        };
        let seen = confidence_in_words(confidence);
        match self {
            Self::File { found, .. } if found.stop_px.is_none() => {
                format!("Tip suggested, {seen}; no stop on the film: no scale from this file")
            }
            _ => format!("{what} suggested, {seen}"),
        }
    }
}

/// A confidence of 0..=1 in words. Below 0.5 the search itself rests on the
/// surroundings more than on the film.
pub fn confidence_in_words(confidence: f64) -> &'static str {
    match confidence {
        c if c >= 0.75 => "clearly seen",
        c if c >= 0.5 => "fairly seen: look at its ends",
        _ => "faintly seen: check every point",
    }
}

/// The suggestion last put into the case, until something else happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastSuggestion {
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
}
