//! The second case opened, and the canal worked out in space, beside the
//! window.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Context;

use crate::case::{Case, SecondFilm};
use crate::desktop::state::Desk;
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::open_film::{OpenFilm, open_case};
use crate::desktop::state::reading::{OneSide, same_patient, two_films};
use crate::desktop::state::session::Session;
use crate::measure::MeasureSettings;
use crate::two_view::{Exposures, PairOnFilms, TwoViewFindings, second_case_path};

/// The second case with its film.
pub struct Second {
    pub path: PathBuf,
    pub case: Case,
    pub film: OpenFilm,
}

/// What is asked of which state of both cases.
#[derive(Clone, Debug, PartialEq)]
struct Asked {
    case_count: usize,
    revision: u64,
    settings: MeasureSettings,
    /// How often a second case has been opened.
    second: usize,
    exposures: Exposures,
}

/// What both films say, and where it shows.
pub type Shown = (TwoViewFindings, PairOnFilms);

/// What a job brings back.
enum Outcome {
    Opened(PathBuf, Box<Result<Second, String>>),
    Found(Box<(Asked, Result<Shown, String>)>),
}

/// The page's work.
#[derive(Default)]
pub struct Work {
    jobs: Jobs<Outcome>,
    /// Where the second case is, and what came of opening it.
    second: Option<(PathBuf, Result<Arc<Second>, String>)>,
    opened: usize,
    /// Why the second film cannot be one of the same tooth.
    other_patient: Option<String>,
    asked: Option<Asked>,
    /// The latest answer, and what it answers.
    answer: Option<(Asked, Result<Shown, String>)>,
}

impl Work {
    /// Opens the second case at the place stored, unless it is open.
    pub fn open_second(&mut self, ctx: &Context, desk: &Desk<'_>, stored: Option<&str>) {
        let Some(stored) = stored else {
            self.second = None;
            return;
        };
        let path = path_of(desk, stored);
        let is_open = self.second.as_ref().is_some_and(|(of, _)| *of == path);
        if is_open || self.jobs.is_running(JobName::Open) {
            return;
        }
        self.jobs.start(ctx, JobName::Open, move || {
            let opened = open_case(&path).map(|(case, film, _)| Second {
                path: path.clone(),
                case,
                film,
            });
            Outcome::Opened(path, Box::new(opened))
        });
    }

    /// Looks whether both films are of one patient, before anything else is
    /// asked; `false`: they are not.
    pub fn check_patients(&mut self, desk: &Desk<'_>) -> bool {
        let name_a = desk.workspace.case_name();
        self.other_patient = self.second().and_then(|second| {
            let name_b = second.path.display().to_string();
            let a = OneSide {
                case: desk.workspace.document.case(),
                film: &desk.workspace.film,
                name: &name_a,
            };
            let b = OneSide {
                case: &second.case,
                film: &second.film,
                name: &name_b,
            };
            same_patient([a, b]).err()
        });
        self.other_patient.is_none()
    }

    /// Reads the second case anew.
    pub fn forget_second(&mut self) {
        self.second = None;
    }

    /// The second case, once it is open.
    pub fn second(&self) -> Option<&Arc<Second>> {
        self.second.as_ref()?.1.as_ref().ok()
    }

    /// Works out the canal in space for both cases as they stand, unless that
    /// is done or something is being dragged.
    pub fn answer(&mut self, ctx: &Context, desk: &Desk<'_>, canal: Option<&str>) {
        let case = desk.workspace.document.case();
        let (Some(remembered), Some(second)) = (&case.second_film, self.second()) else {
            self.asked = None;
            return;
        };
        let asked = Asked {
            case_count: desk.session.case_count,
            revision: desk.workspace.document.revision(),
            settings: desk.workspace.settings().clone(),
            second: self.opened,
            exposures: Exposures {
                canal: canal.map(str::to_owned),
                ..Exposures::remembered(remembered)
            },
        };
        let second = Arc::clone(second);
        self.asked = Some(asked.clone());
        let dragging = ctx.input(|input| input.pointer.any_down());
        let answered = self.answer.as_ref().is_some_and(|(of, _)| *of == asked);
        if answered || dragging || self.jobs.is_running(JobName::Intervals) {
            return;
        }
        let (case, film) = (case.clone(), desk.workspace.film.clone());
        let name_a = desk.workspace.case_name();
        self.jobs.start(ctx, JobName::Intervals, move || {
            let name_b = second.path.display().to_string();
            let sides = [
                OneSide {
                    case: &case,
                    film: &film,
                    name: &name_a,
                },
                OneSide {
                    case: &second.case,
                    film: &second.film,
                    name: &name_b,
                },
            ];
            let found = two_films(sides, &asked.exposures, &asked.settings);
            Outcome::Found(Box::new((asked, found)))
        });
    }

    /// The second case and the latest answer; of another pair there is none.
    pub fn shown(&self) -> (Option<&Arc<Second>>, Option<&Shown>) {
        let of_pair = |of: &Asked| {
            let now = self.asked.as_ref();
            now.is_some_and(|now| now.case_count == of.case_count && now.second == of.second)
        };
        let answer = self.answer.as_ref().filter(|(of, _)| of_pair(of));
        (
            self.second(),
            answer.and_then(|(_, found)| found.as_ref().ok()),
        )
    }

    /// The answer is to what is asked now.
    pub fn is_current(&self) -> bool {
        let answered = self.answer.as_ref().map(|(of, _)| of);
        answered == self.asked.as_ref()
    }

    /// Why there is no answer.
    pub fn problem(&self) -> Option<&str> {
        if let Some((_, Err(problem))) = &self.second {
            return Some(problem);
        }
        if let Some(problem) = &self.other_patient {
            return Some(problem);
        }
        match &self.answer {
            Some((of, Err(problem))) if self.asked.as_ref() == Some(of) => Some(problem),
            _ => None,
        }
    }

    /// Takes what the jobs have brought.
    pub fn poll(&mut self, session: &mut Session) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(Outcome::Opened(path, opened)) => {
                    self.opened += 1;
                    self.second = Some((path, (*opened).map(Arc::new)));
                }
                JobEnd::Done(Outcome::Found(found)) => self.answer = Some(*found),
                JobEnd::Lost(_) => {
                    let problem = "Two films: the work stopped before its end";
                    session.report_error(problem);
                    // Not begun again for the same question.
                    self.answer = self
                        .asked
                        .clone()
                        .map(|asked| (asked, Err(problem.to_owned())));
                }
            }
        }
    }

    /// A case is being opened or a path worked out.
    pub fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Open) || self.jobs.is_running(JobName::Intervals)
    }
}

/// Where the second case is that a case stores so.
pub fn path_of(desk: &Desk<'_>, stored: &str) -> PathBuf {
    let second = SecondFilm {
        case: stored.to_owned(),
        ..empty()
    };
    let path = desk.workspace.document.case_path();
    second_case_path(path.unwrap_or(Path::new("")), &second)
}

/// A second film of which nothing is said.
pub fn empty() -> SecondFilm {
    SecondFilm {
        case: String::new(),
        angle_deg: 0.0,
        angle_half_width_deg: None,
        receptor: Default::default(),
        right_is: None,
        source_is: None,
        extra: Default::default(),
    }
}
