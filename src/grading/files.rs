//! The whole way from case files to a graded class.

use std::path::PathBuf;
use std::sync::Arc;

use serde::Serialize;
use thiserror::Error;

use super::class::{
    ClassStatistics, GradedTraces, Refused, class_statistics, grade_class, grade_each, graded,
};
use super::grade::{TraceGrade, full_points};
use super::hand_ins::{CollectError, HandIn, collect};
use super::measures::Values;
use super::numbering::Numbering;
use super::private::PrivateText;
use super::reference::{Reference, ReferenceScale};
use super::reference_canal::{ReferenceCanal, ReferenceError};
use super::roster::Roster;
use super::rubric::Rubric;
use super::submission::{GradedFilm, Submission, film_name};
use super::totals::{FilmResults, StudentTotal, totals};
use super::{attempts, copies};
use crate::film::FilmCache;
use crate::progress::{Cancelled, Progress};
use crate::units::FilmPoint;

/// Why a class cannot be graded at all: one clear line.
#[derive(Debug, Error)]
pub enum GradeError {
    /// A reference case cannot be used.
    #[error("{0}")]
    ReferenceFile(String),
    /// There is no reference.
    #[error(transparent)]
    Reference(#[from] ReferenceError),
    /// A folder cannot be read, or there is nothing to grade.
    #[error(transparent)]
    Traces(CollectError),
    /// It was stopped before there was a reference.
    #[error("stopped before anything was graded")]
    Stopped(#[from] Cancelled),
}

impl From<CollectError> for GradeError {
    fn from(error: CollectError) -> Self {
        match error {
            CollectError::Stopped(stop) => Self::Stopped(stop),
            CollectError::Folder { .. } => Self::Traces(error),
        }
    }
}

/// One canal of the reference, as printed. Without a scale the `_mm` keys are
/// `null`, with one the `_px` keys.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReferenceCanalFacts {
    pub name: String,
    pub experts: usize,
    /// Points of the path, film px.
    pub points_px: Vec<[f64; 2]>,
    /// Standard deviation of the experts across the path, at equal steps.
    pub spread_across_mm: Option<Vec<f64>>,
    pub spread_along_mm: Option<Vec<f64>>,
    pub spread_across_px: Option<Vec<f64>>,
    pub spread_along_px: Option<Vec<f64>>,
    /// What the errors are counted from, by the error's key.
    pub values: Values,
    /// Standard deviation of the same between experts.
    pub value_spread: Values,
    /// What a picture shows of it beside `points_px`.
    #[serde(skip)]
    pub picture: ReferencePicture,
}

/// One canal of the reference on its film, px.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferencePicture {
    /// One standard deviation of the experts to either side of the path, at
    /// equal steps; empty for one expert.
    pub band_px: Vec<[FilmPoint; 2]>,
    /// Apex mark, else end of trace.
    pub apex_px: FilmPoint,
    /// File tip mark.
    pub tip_px: Option<FilmPoint>,
}

/// The reference, as printed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReferenceFacts {
    pub cases: Vec<String>,
    pub film: String,
    /// The reference is the sealed truth of a film, not an expert.
    pub is_truth: bool,
    pub film_sha256: String,
    pub scale: ReferenceScale,
    pub canals: Vec<ReferenceCanalFacts>,
}

/// A graded class; the JSON of `lengthfilm grade --json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassGrade {
    pub reference: ReferenceFacts,
    pub rubric: Rubric,
    pub traces: Vec<TraceGrade>,
    /// Hand-ins that could not be graded, and those that are not there.
    pub refused: Vec<Refused>,
    /// Every student's total, by name.
    pub students: Vec<StudentTotal>,
    pub class: ClassStatistics,
    pub warnings: Vec<PrivateText>,
    /// The run was cancelled: traces may be missing.
    pub cancelled: bool,
}

/// Grades the cases `traces` (files, or folders of `*.case.json`) against the
/// cases `reference`. A case of the reference found in a folder is left out.
///
/// # Errors
/// [`GradeError`]: the reference cannot be used or there is nothing to grade.
/// A trace that cannot be graded is listed among `refused`.
pub fn grade_files(
    reference: &[PathBuf],
    traces: &[PathBuf],
    rubric: &Rubric,
    progress: &Progress,
) -> Result<ClassGrade, GradeError> {
    grade_hand_ins(reference, traces, &Roster::default(), rubric, progress)
}

/// [`grade_files`] of the students of `roster`: one who did not hand in is
/// listed among `refused` and has a total.
///
/// # Errors
/// As [`grade_files`].
pub fn grade_hand_ins(
    reference: &[PathBuf],
    traces: &[PathBuf],
    roster: &Roster,
    rubric: &Rubric,
    progress: &Progress,
) -> Result<ClassGrade, GradeError> {
    let films = FilmCache::default().stopped_by(progress);
    let loaded = LoadedReference::load(reference, &films)
        .map_err(|error| progress.check().err().map_or(error, GradeError::Stopped))?;
    let collected = collect(traces, reference, progress)?;
    let known = |hash: Option<&str>, name: &str| loaded.known_film(hash, name);
    let mut outcome = grade_each(&collected.files, progress, |hand_in: &HandIn| {
        let path = &hand_in.path;
        let mut submission = hand_in
            .read(progress)
            .map_err(|reason| Refused::new(path, hand_in.student(true), reason))?;
        let student = submission.student.clone();
        submission
            .open_film(path, &films, &known)
            .and_then(|own| submission.onto(&own, &loaded.film))
            .map_err(|reason| Refused::new(path, student, reason))
            .and_then(|submission| graded(&loaded.agreed, rubric, &submission))
    });
    outcome
        .refused
        .extend(missing(&outcome, &collected.empty, roster));
    Ok(loaded.class(rubric, roster, outcome))
}

/// Students who handed nothing in: of empty folders, and of the roster.
fn missing(outcome: &GradedTraces, empty: &[String], roster: &Roster) -> Vec<Refused> {
    let handed_in = |student: &str| {
        outcome.traces.iter().any(|trace| trace.student == student)
            || outcome
                .refused
                .iter()
                .any(|refused| refused.student == student)
    };
    let mut found: Vec<Refused> = empty
        .iter()
        .filter(|student| !handed_in(student))
        .map(|student| Refused::missing(student.clone(), "the folder holds no case"))
        .collect();
    for student in roster.names().filter(|student| !handed_in(student)) {
        if !outcome.cancelled && found.iter().all(|one| one.student != student) {
            found.push(Refused::missing(student.to_owned(), "nothing handed in"));
        }
    }
    found
}

/// A reference with the cases and the film it comes from.
pub struct LoadedReference {
    agreed: Reference,
    experts: Vec<Submission>,
    film: Arc<GradedFilm>,
}

impl LoadedReference {
    /// The consensus of the cases at `paths`, on the film of the first.
    ///
    /// # Errors
    /// [`GradeError`]: a case cannot be used.
    pub fn load(paths: &[PathBuf], films: &FilmCache<GradedFilm>) -> Result<Self, GradeError> {
        let mut experts = Vec::with_capacity(paths.len());
        let mut reference_film = None;
        for path in paths {
            let of_file = |reason: PrivateText| {
                let file = path.display().to_string();
                let text = reason.to_string();
                GradeError::ReferenceFile(match text.contains(&file) {
                    true => text,
                    false => format!("{file}: {text}"),
                })
            };
            let (expert, film) = Submission::load(path, films).map_err(of_file)?;
            let first = reference_film.get_or_insert_with(|| film.clone());
            experts.push(expert.onto(&film, first).map_err(of_file)?);
        }
        let film = reference_film.ok_or(ReferenceError::None)?;
        Ok(Self::new(experts, film)?)
    }

    /// The consensus of `experts`, whose points are px of `film`.
    ///
    /// # Errors
    /// [`ReferenceError`].
    pub fn new(experts: Vec<Submission>, film: Arc<GradedFilm>) -> Result<Self, ReferenceError> {
        Ok(Self {
            agreed: Reference::new(&experts, film.summary.clone())?,
            experts,
            film,
        })
    }

    /// The same taken for the truth itself: no hand drew it.
    #[must_use]
    pub fn exact(self) -> Self {
        Self {
            agreed: self.agreed.exact(),
            ..self
        }
    }

    /// The film, if it is of that hash, or of that file name where no hash is
    /// known.
    pub fn known_film(&self, hash: Option<&str>, name: &str) -> Option<Arc<GradedFilm>> {
        let own_name = self.film.path.to_string_lossy();
        let is_own = match hash {
            Some(hash) => hash.eq_ignore_ascii_case(&self.film.summary.sha256),
            None => film_name(&own_name).eq_ignore_ascii_case(name),
        };
        is_own.then(|| Arc::clone(&self.film))
    }

    /// What an exact trace of every canal is worth.
    pub fn full_points(&self, rubric: &Rubric) -> f64 {
        let canals = self.agreed.canals.iter();
        canals
            .map(|canal| full_points(&self.agreed, canal, rubric))
            .sum()
    }

    /// Grades submissions whose points are px of the reference's film.
    pub fn grade(
        &self,
        rubric: &Rubric,
        submissions: &[Submission],
        progress: &Progress,
    ) -> ClassGrade {
        let graded = grade_class(&self.agreed, rubric, submissions, progress);
        self.class(rubric, &Roster::default(), graded)
    }

    /// The whole class of what was graded.
    fn class(&self, rubric: &Rubric, roster: &Roster, mut graded: GradedTraces) -> ClassGrade {
        copies::mark(&self.agreed, rubric, &mut graded.traces);
        attempts::arrange(&mut graded.traces, rubric.attempt);
        let mut warnings = self.agreed.warnings.clone();
        for expert in &self.experts {
            let own = expert.warnings.iter();
            warnings.extend(own.map(|remark| PrivateText::about(&expert.file, remark)));
        }
        let film = self.film.path.display().to_string();
        let results = [FilmResults {
            film: film_name(&film),
            traces: &graded.traces,
            points_possible: self.full_points(rubric),
        }];
        let refused: Vec<&Refused> = graded.refused.iter().collect();
        ClassGrade {
            students: totals(&results, &refused, roster, rubric.pass_share),
            class: class_statistics(&self.agreed, rubric, &graded.traces),
            reference: ReferenceFacts {
                cases: self.experts.iter().map(|e| e.file.clone()).collect(),
                film,
                is_truth: self.agreed.is_exact(),
                film_sha256: self.film.summary.sha256.clone(),
                scale: self.agreed.scale.clone(),
                canals: canal_facts(&self.agreed),
            },
            rubric: rubric.clone(),
            traces: graded.traces,
            refused: graded.refused,
            warnings,
            cancelled: graded.cancelled,
        }
    }
}

fn canal_facts(reference: &Reference) -> Vec<ReferenceCanalFacts> {
    let in_mm = reference.length_unit().is_mm();
    let facts = reference.canals.iter().map(|canal| {
        let (across, along) = (canal.spread_across.clone(), canal.spread_along.clone());
        ReferenceCanalFacts {
            name: canal.name.clone(),
            experts: canal.experts,
            points_px: canal
                .path
                .points()
                .iter()
                .map(|&p| reference.film_from_tooth(p).into())
                .collect(),
            spread_across_mm: in_mm.then(|| across.clone()),
            spread_along_mm: in_mm.then(|| along.clone()),
            spread_across_px: (!in_mm).then_some(across),
            spread_along_px: (!in_mm).then_some(along),
            values: canal.values.clone(),
            value_spread: canal.spread.clone(),
            picture: ReferencePicture {
                band_px: spread_band(reference, canal),
                apex_px: reference.film_from_tooth(canal.apex),
                tip_px: canal.tip.map(|tip| reference.film_from_tooth(tip)),
            },
        }
    });
    facts.collect()
}

fn spread_band(reference: &Reference, canal: &ReferenceCanal) -> Vec<[FilmPoint; 2]> {
    if canal.experts < 2 {
        return Vec::new();
    }
    let places = canal.path.resampled(canal.spread_across.len());
    let sides = places.windows(2).zip(&canal.spread_across);
    sides
        .map(|(pair, &spread)| {
            let along = pair[1] - pair[0];
            let aside = kurbo::Vec2::new(-along.y, along.x) * (spread / along.hypot());
            [pair[0] - aside, pair[0] + aside].map(|place| reference.film_from_tooth(place))
        })
        .collect()
}

impl ClassGrade {
    /// Replaces names by numbers, in order of the files: students and their
    /// files, the reference's cases, the film's path. Sentences that name
    /// somebody are said without.
    pub fn numbers_for_names(&mut self) {
        self.numbers_for_names_among(&mut Numbering::default());
    }

    /// The same with the numbers that `numbers` has already given, so that a
    /// student keeps one number over several classes.
    pub fn numbers_for_names_among(&mut self, numbers: &mut Numbering) {
        for (index, trace) in self.traces.iter_mut().enumerate() {
            trace.student = numbers.of(&trace.student);
            trace.file = format!("file {}", index + 1);
        }
        for canal in self.traces.iter_mut().flat_map(|trace| &mut trace.canals) {
            for student in &mut canal.same_points_as {
                *student = numbers.of(student);
            }
        }
        for (index, case) in self.reference.cases.iter_mut().enumerate() {
            *case = format!("reference {}", index + 1);
        }
        "film".clone_into(&mut self.reference.film);
        for (index, refused) in self.refused.iter_mut().enumerate() {
            refused.hide_names(index + 1, numbers);
        }
        for total in &mut self.students {
            total.student = numbers.of(&total.student);
        }
        sort_by_number(&mut self.students);
        self.warnings.iter_mut().for_each(PrivateText::hide_names);
    }
}

/// Totals in the order of their numbers.
pub fn sort_by_number(students: &mut [StudentTotal]) {
    students.sort_by_key(|total| total.student.parse::<usize>().unwrap_or(usize::MAX));
}

impl Refused {
    /// Replaces names: the student's by a number, the file's by `number`.
    pub fn hide_names(&mut self, number: usize, numbers: &mut Numbering) {
        self.student = numbers.of(&self.student);
        if self.is_file() {
            self.file = format!("refused file {number}");
        }
        self.reason.hide_names();
    }
}
