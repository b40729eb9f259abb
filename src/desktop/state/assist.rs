//! Suggestions from the film: asked for by clicks, worked out beside the
//! window, put into the case as one step.

use std::sync::Arc;

use thiserror::Error;

use super::long_job::LongJob;
use super::open_film::OpenFilm;
use crate::assist::{
    AssistError, FollowOptions, FollowedPath, LocateOptions, LocatedFile, follow, locate_file,
};
use crate::case::Case;
use crate::case::edit::{self, Tool};
use crate::shaping::{FollowError, FollowedWalls, follow_walls};
use crate::units::FilmPoint;

/// What has been asked of the film.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Canal that gets the suggestion.
    pub canal: usize,
    pub sought: Sought,
}

/// What is looked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Sought {
    /// The file near a click.
    File(FilmPoint),
    /// The canal through clicks.
    Canal(Vec<FilmPoint>),
    /// Both walls along a trace.
    Walls(Vec<FilmPoint>),
}

impl Sought {
    /// What `tool` looks for with these clicks; `None` while more are needed, and
    /// of a tool that places points itself.
    pub fn of_tool(tool: Tool, clicks: &[FilmPoint]) -> Option<Self> {
        match (tool, clicks) {
            (Tool::FindFile, [near]) => Some(Self::File(*near)),
            (Tool::FollowCanal, [_, _]) => Some(Self::Canal(clicks.to_vec())),
            _ => None,
        }
    }
}

/// Why there is no suggestion.
#[derive(Debug, Error)]
pub enum NoSuggestion {
    #[error(transparent)]
    Assist(#[from] AssistError),
    #[error(transparent)]
    Walls(#[from] FollowError),
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
    ) -> impl FnOnce() -> Result<Suggestion, NoSuggestion> + Send + 'static {
        let film = Arc::clone(&film.film);
        let canal = self.canal;
        move || {
            job.watched(wake, |progress| match self.sought {
                Sought::File(near) => {
                    let options = LocateOptions { mm_per_px };
                    let found = locate_file(&film, near, &options, progress)?;
                    Ok(Suggestion::File { canal, found })
                }
                Sought::Canal(clicks) => {
                    let options = FollowOptions {
                        bright: false,
                        mm_per_px,
                    };
                    let found = follow(&film, &clicks, &options, progress)?;
                    Ok(Suggestion::Canal {
                        canal,
                        found,
                        mm_per_px,
                    })
                }
                Sought::Walls(trace_px) => {
                    let found = follow_walls(&film, &trace_px)?;
                    Ok(Suggestion::Walls { canal, found })
                }
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
    Walls {
        canal: usize,
        found: FollowedWalls,
    },
}

impl Suggestion {
    /// Name of the step that puts it into the case.
    pub fn label(&self) -> &'static str {
        match self {
            Self::File { .. } => "Find file",
            Self::Canal { .. } => "Follow canal",
            Self::Walls { .. } => "Follow both walls",
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
            Self::Walls { canal, found } => {
                if let Some(canal) = case.canals.get_mut(*canal) {
                    canal.walls = Some(found.walls.clone());
                }
            }
        }
    }

    /// What was found and how surely, for the status line.
    pub fn words(&self) -> String {
        match self {
            Self::File { found, .. } => {
                let seen = confidence_in_words(found.confidence);
                match found.stop_px {
                    Some(_) => format!("File suggested, {seen}"),
                    None => format!(
                        "Tip suggested, {seen}; no stop on the film: no scale from this file"
                    ),
                }
            }
            Self::Canal { found, .. } => {
                let seen = confidence_in_words(found.mean_confidence);
                format!("Canal suggested, {seen}")
            }
            Self::Walls { found, .. } => {
                let seen = 100.0 * found.seen;
                format!(
                    "Both walls show on {seen:.0} % of the canal's length. Check them on the film."
                )
            }
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
