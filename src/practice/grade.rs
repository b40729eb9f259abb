//! Traces of a practice set graded against its truth.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;
use serde::Serialize;

use super::PracticeError;
use super::truth::OpenedSet;
use crate::film::FilmCache;
use crate::grading::class::Refused;
use crate::grading::files::{ClassGrade, GradeError, LoadedReference, trace_files};
use crate::grading::rubric::Rubric;
use crate::grading::submission::{GradedFilm, Submission};
use crate::progress::{Progress, Steps};

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

/// One student over all films.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudentTotal {
    pub student: String,
    pub traces: usize,
    pub passed: usize,
    pub points: f64,
    pub points_possible: f64,
}

/// A graded practice set; the JSON of `lengthfilm practice grade --json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PracticeGrade {
    /// Films that were traced, in the order of the set.
    pub films: Vec<FilmGrade>,
    /// By name.
    pub students: Vec<StudentTotal>,
    /// Files that belong to no film of the set or cannot be read; those that
    /// could not be graded are with their film.
    pub refused: Vec<Refused>,
    pub cancelled: bool,
}

/// A trace that was read, with its film and which of the set that is.
struct Read {
    submission: Submission,
    film: Arc<GradedFilm>,
    index: usize,
}

/// Grades the cases `traces` (files, or folders of `*.case.json`), each
/// against the truth of the film it names by hash. A case nobody has traced
/// anything in is a film not tried yet and is left out. Films are taken from a
/// case's own folder and from `films_folder`.
///
/// # Errors
/// [`PracticeError`]: a folder cannot be read or there is nothing to grade.
pub fn grade(
    set: &OpenedSet,
    films_folder: &Path,
    traces: &[PathBuf],
    rubric: &Rubric,
    progress: &Progress,
) -> Result<PracticeGrade, PracticeError> {
    let films = FilmCache::default();
    let homes = [films_folder.to_owned()];
    let files = trace_files(traces, &[])?;
    let read: Vec<Result<Option<Read>, Refused>> = files
        .par_iter()
        .map(|path| match progress.is_cancelled() {
            true => Ok(None),
            false => read(set, path, &homes, &films),
        })
        .collect();
    let stopped_reading = progress.is_cancelled();
    let mut by_film: Vec<Vec<Read>> = set.films.iter().map(|_| Vec::new()).collect();
    let mut refused = Vec::new();
    for one in read {
        match one {
            Ok(Some(read)) => by_film[read.index].push(read),
            Ok(None) => {}
            Err(reason) => refused.push(reason),
        }
    }
    let total = by_film.iter().map(Vec::len).sum();
    let steps = Steps::new(progress, total);
    let count = |_, _| steps.step();
    let progress = progress.reported_to(&count);
    let mut graded = Vec::new();
    for (truth, read) in set.films.iter().zip(by_film) {
        let Some(first) = read.first() else { continue };
        let film_path = first.film.path.clone();
        let name = format!("truth of {}", truth.film);
        let expert = Submission::new(name, truth.case(&truth.film));
        let reference = LoadedReference::new(vec![expert], Arc::clone(&first.film))
            .map_err(GradeError::from)?;
        let submissions: Vec<Submission> = read.into_iter().map(|r| r.submission).collect();
        graded.push(FilmGrade {
            film: truth.film.clone(),
            film_path,
            class: reference.grade(rubric, &submissions, &progress),
        });
    }
    Ok(PracticeGrade {
        students: totals(&graded),
        cancelled: stopped_reading || graded.iter().any(|film| film.class.cancelled),
        films: graded,
        refused,
    })
}

impl PracticeGrade {
    /// Replaces the names of students and files by numbers; a student keeps
    /// one number over all films.
    pub fn numbers_for_names(&mut self) {
        let mut numbers = HashMap::new();
        for film in &mut self.films {
            film.class.numbers_for_names_among(&mut numbers);
        }
        self.students = totals(&self.films);
        for (index, refused) in self.refused.iter_mut().enumerate() {
            refused.hide_names(index + 1, "");
        }
    }
}

fn read(
    set: &OpenedSet,
    path: &Path,
    homes: &[PathBuf],
    films: &FilmCache<GradedFilm>,
) -> Result<Option<Read>, Refused> {
    let refused = |reason: String| Refused::new(path, reason);
    let (submission, film) = Submission::load_handed_in(path, homes, films).map_err(refused)?;
    let canals = &submission.case.canals;
    if canals.iter().all(|canal| canal.trace_px.len() < 2) {
        return Ok(None);
    }
    let hash = &film.summary.sha256;
    let Some(index) = set.films.iter().position(|truth| &truth.sha256 == hash) else {
        return Err(refused(format!(
            "{}: its film {} is none of this practice set",
            path.display(),
            film.path.display()
        )));
    };
    Ok(Some(Read {
        submission,
        film,
        index,
    }))
}

fn totals(films: &[FilmGrade]) -> Vec<StudentTotal> {
    let mut totals: BTreeMap<&str, StudentTotal> = BTreeMap::new();
    for trace in films.iter().flat_map(|film| &film.class.traces) {
        let total = totals
            .entry(&trace.student)
            .or_insert_with(|| StudentTotal {
                student: trace.student.clone(),
                traces: 0,
                passed: 0,
                points: 0.0,
                points_possible: 0.0,
            });
        total.traces += 1;
        total.passed += usize::from(trace.passed == Some(true));
        total.points += trace.points;
        total.points_possible += trace.points_possible;
    }
    totals.into_values().collect()
}
