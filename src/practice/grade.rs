//! Traces of an exercise set graded against its truth.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;
use serde::Serialize;

use super::PracticeError;
use super::truth::{FilmTruth, OpenedSet};
use crate::film::FilmCache;
use crate::grading::class::Refused;
use crate::grading::files::{ClassGrade, GradeError, LoadedReference, sort_by_number};
use crate::grading::hand_ins::{HandIn, collect};
use crate::grading::numbering::Numbering;
use crate::grading::private::PrivateText;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;
use crate::grading::set_statistics::{SetStatistics, set_statistics};
use crate::grading::submission::{GradedFilm, Submission};
use crate::grading::totals::{FilmResults, totals};
use crate::progress::{Progress, Steps};

pub use crate::grading::totals::StudentTotal;

/// All traces of one film of the set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmGrade {
    /// File name of the film in the set.
    pub film: String,
    #[serde(flatten)]
    pub class: ClassGrade,
    /// Where the film lies; said nowhere, so that it may stay when names go.
    #[serde(skip)]
    pub film_path: PathBuf,
}

/// A graded exercise set; the JSON of `lengthfilm exercise grade --json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PracticeGrade {
    /// Films that were traced, in the order of the set.
    pub films: Vec<FilmGrade>,
    /// By name; films that a student has not done count as undone.
    pub students: Vec<StudentTotal>,
    /// Files that belong to no film of the set or cannot be read; those that
    /// could not be graded are with their film. Students who handed nothing
    /// in.
    pub refused: Vec<Refused>,
    /// Films of the set.
    pub film_count: usize,
    /// What the set as a whole shows.
    pub class: SetStatistics,
    pub cancelled: bool,
}

/// A trace that was read, with its film and which of the set that is.
struct Read {
    submission: Submission,
    film: Arc<GradedFilm>,
    index: usize,
}

/// Grades the cases `traces` (files, or folders of `*.case.json`), each
/// against the truth of the film it names by hash; a film that was not handed
/// in is taken from `films_folder`. A case nobody has traced anything in is a
/// film not tried yet and is left out; it counts as undone.
///
/// # Errors
/// [`PracticeError`]: a folder cannot be read, there is nothing to grade, or
/// somebody asked to stop before anything was read.
pub fn grade(
    set: &OpenedSet,
    films_folder: &Path,
    traces: &[PathBuf],
    roster: &Roster,
    rubric: &Rubric,
    progress: &Progress,
) -> Result<PracticeGrade, PracticeError> {
    let films = FilmCache::default().stopped_by(progress);
    let collected = collect(traces, &[], progress).map_err(GradeError::from)?;
    let read: Vec<Result<Outcome, Refused>> = collected
        .files
        .par_iter()
        .map(|hand_in| match progress.is_cancelled() {
            true => Ok(Outcome::Stopped),
            false => read(set, films_folder, hand_in, &films),
        })
        .collect();
    let stopped_reading = progress.is_cancelled();
    let mut by_film: Vec<Vec<Read>> = set.films.iter().map(|_| Vec::new()).collect();
    let (mut refused, mut began) = (Vec::new(), Vec::new());
    for one in read {
        match one {
            Ok(Outcome::Traced(read)) => by_film[read.index].push(*read),
            Ok(Outcome::NotTraced { student }) => began.push(student),
            Ok(Outcome::Stopped) => {}
            Err(reason) => refused.push(reason),
        }
    }
    let total = by_film.iter().map(Vec::len).sum();
    let steps = Steps::new(progress, total);
    let count = |_, _| steps.step();
    let progress = progress.reported_to(&count);
    let mut graded = Vec::new();
    let mut worth = Vec::with_capacity(set.films.len());
    for (truth, read) in set.films.iter().zip(by_film) {
        let film = match read.first() {
            Some(first) => Some(Arc::clone(&first.film)),
            None => films
                .get(&films_folder.join(&truth.film), GradedFilm::new)
                .ok(),
        };
        let reference = film.map(|film| reference(truth, film)).transpose()?;
        worth.push(
            reference
                .as_ref()
                .map(|reference| reference.full_points(rubric)),
        );
        let (Some(reference), Some(first)) = (reference, read.first()) else {
            continue;
        };
        let film_path = first.film.path.clone();
        let submissions: Vec<Submission> = read.into_iter().map(|r| r.submission).collect();
        graded.push(FilmGrade {
            film: truth.film.clone(),
            film_path,
            class: reference.grade(rubric, &submissions, &progress),
        });
    }
    let cancelled = stopped_reading || graded.iter().any(|film| film.class.cancelled);
    if !cancelled {
        let handed_in = |student: &str| {
            let mut traces = graded.iter().flat_map(|film| &film.class.traces);
            traces.any(|trace| trace.student == student)
                || refused.iter().any(|refused| refused.student == student)
        };
        let listed = roster.names().map(str::to_owned).chain(collected.empty);
        let mut missing: Vec<String> = listed.filter(|student| !handed_in(student)).collect();
        missing.sort();
        missing.dedup();
        let missing = missing.into_iter();
        refused.extend(missing.map(|student| Refused::missing(student, "nothing handed in")));
    }
    let roster = roster.clone().with(began);
    let students = set_totals(set, &graded, &worth, &refused, &roster, rubric);
    let of_films: Vec<(&str, &[_])> = graded
        .iter()
        .map(|film| (film.film.as_str(), film.class.traces.as_slice()))
        .collect();
    let class = set_statistics(&of_films, rubric.stray_mm);
    Ok(PracticeGrade {
        class,
        students,
        cancelled,
        films: graded,
        refused,
        film_count: set.films.len(),
    })
}

/// The truth of a film as a reference.
fn reference(truth: &FilmTruth, film: Arc<GradedFilm>) -> Result<LoadedReference, PracticeError> {
    let name = format!("truth of {}", truth.film);
    let expert = Submission::new(name, truth.case(&truth.film));
    let reference = LoadedReference::new(vec![expert], film).map_err(GradeError::from)?;
    Ok(reference.exact())
}

/// Totals over every film of the set. A film that nobody traced and that is
/// not there to be read is worth what the others are on average.
fn set_totals(
    set: &OpenedSet,
    graded: &[FilmGrade],
    worth: &[Option<f64>],
    refused: &[Refused],
    roster: &Roster,
    rubric: &Rubric,
) -> Vec<StudentTotal> {
    let known: Vec<f64> = worth.iter().flatten().copied().collect();
    let usual = match known.is_empty() {
        true => 0.0,
        false => crate::statistics::mean(&known),
    };
    let results = set.films.iter().zip(worth).map(|(truth, worth)| {
        let own = graded.iter().find(|film| film.film == truth.film);
        FilmResults {
            film: &truth.film,
            traces: own.map_or(&[], |film| &film.class.traces),
            points_possible: worth.unwrap_or(usual),
        }
    });
    let of_films = graded.iter().flat_map(|film| &film.class.refused);
    let refused: Vec<&Refused> = of_films.chain(refused).collect();
    totals(
        &results.collect::<Vec<_>>(),
        &refused,
        roster,
        rubric.pass_share,
    )
}

impl PracticeGrade {
    /// Replaces the names of students and files by numbers; a student keeps
    /// one number over all films.
    pub fn numbers_for_names(&mut self) {
        self.numbers_for_names_among(&mut Numbering::default());
    }

    /// The same with the numbers that `numbers` has already given.
    pub fn numbers_for_names_among(&mut self, numbers: &mut Numbering) {
        for film in &mut self.films {
            film.class.numbers_for_names_among(numbers);
        }
        for (index, refused) in self.refused.iter_mut().enumerate() {
            refused.hide_names(index + 1, numbers);
        }
        for total in &mut self.students {
            total.student = numbers.of(&total.student);
        }
        sort_by_number(&mut self.students);
    }
}

/// What a case file turned out to be.
enum Outcome {
    Traced(Box<Read>),
    NotTraced { student: String },
    Stopped,
}

fn read(
    set: &OpenedSet,
    films_folder: &Path,
    hand_in: &HandIn,
    films: &FilmCache<GradedFilm>,
) -> Result<Outcome, Refused> {
    let path = &hand_in.path;
    let mut submission = hand_in
        .read(films.progress())
        .map_err(|reason| Refused::new(path, hand_in.student(true), reason))?;
    let student = submission.student.clone();
    let canals = &submission.case.canals;
    if canals.iter().all(|canal| canal.trace_px.len() < 2) {
        return Ok(Outcome::NotTraced { student });
    }
    let refused = |reason: PrivateText| Refused::new(path, student.clone(), reason);
    let known = |hash: Option<&str>, name: &str| {
        let truth = set.films.iter().find(|truth| match hash {
            Some(hash) => truth.sha256.eq_ignore_ascii_case(hash),
            None => truth.film.eq_ignore_ascii_case(name),
        })?;
        let film = films
            .get(&films_folder.join(&truth.film), GradedFilm::new)
            .ok()?;
        (film.summary.sha256 == truth.sha256).then_some(film)
    };
    let film = submission.open_film(path, films, &known).map_err(refused)?;
    let hash = &film.summary.sha256;
    let Some(index) = set.films.iter().position(|truth| &truth.sha256 == hash) else {
        let film = film.path.display();
        return Err(refused(PrivateText::new(
            format!("its film {film} is none of this exercise set"),
            "its film is none of this exercise set",
        )));
    };
    Ok(Outcome::Traced(Box::new(Read {
        submission,
        film,
        index,
    })))
}
