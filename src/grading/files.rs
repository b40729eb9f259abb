//! The whole way from case files to a graded class.

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Serialize;
use thiserror::Error;

use super::class::{
    ClassStatistics, GradedTraces, Refused, class_statistics, grade_class, grade_each,
};
use super::grade::{TraceGrade, grade};
use super::measures::Values;
use super::reference::{Reference, ReferenceCanal, ReferenceError, ReferenceScale};
use super::rubric::Rubric;
use super::submission::{GradedFilm, Submission};
use crate::case;
use crate::film::FilmCache;
use crate::progress::Progress;
use crate::units::FilmPoint;

/// Ending of the files taken from a folder.
const CASE_ENDING: &str = ".case.json";

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
    #[error("{path}: {reason}")]
    Traces { path: PathBuf, reason: String },
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
    pub refused: Vec<Refused>,
    pub class: ClassStatistics,
    pub warnings: Vec<String>,
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
    let films = FilmCache::default();
    let loaded = LoadedReference::load(reference, &films)?;
    let files = trace_files(traces, reference)?;
    let film = &loaded.film.path;
    let homes: Vec<PathBuf> = film.parent().map(Path::to_owned).into_iter().collect();
    let graded = grade_each(&files, progress, |path| {
        Submission::load_handed_in(path, &homes, &films)
            .and_then(|(submission, own)| submission.onto(&own, &loaded.film))
            .and_then(|submission| grade(&loaded.agreed, rubric, &submission))
            .map_err(|reason| Refused::new(path, reason))
    });
    Ok(loaded.class(rubric, graded))
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
            let (expert, film) =
                Submission::load(path, films).map_err(GradeError::ReferenceFile)?;
            let first = reference_film.get_or_insert_with(|| film.clone());
            experts.push(
                expert
                    .onto(&film, first)
                    .map_err(GradeError::ReferenceFile)?,
            );
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

    /// Grades submissions whose points are px of the reference's film.
    pub fn grade(
        &self,
        rubric: &Rubric,
        submissions: &[Submission],
        progress: &Progress,
    ) -> ClassGrade {
        let graded = grade_class(&self.agreed, rubric, submissions, progress);
        self.class(rubric, graded)
    }

    /// The whole class of what was graded.
    fn class(&self, rubric: &Rubric, graded: GradedTraces) -> ClassGrade {
        let mut warnings = self.agreed.warnings.clone();
        for expert in &self.experts {
            warnings.extend(
                expert
                    .warnings
                    .iter()
                    .map(|w| format!("{}: {w}", expert.file)),
            );
        }
        ClassGrade {
            class: class_statistics(&self.agreed, rubric, &graded.traces),
            reference: ReferenceFacts {
                cases: self.experts.iter().map(|e| e.file.clone()).collect(),
                film: self.film.path.display().to_string(),
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

impl Refused {
    /// The case at `path` is refused, with what the reason may name.
    pub fn new(path: &Path, reason: String) -> Self {
        Self {
            file: path.display().to_string(),
            reason,
            nameable: nameable(path),
        }
    }

    /// Replaces names by `number`: the file's, and in the reason those of
    /// student and films, `film` (may be empty) among them.
    pub fn hide_names(&mut self, number: usize, film: &str) {
        let name = format!("refused file {number}");
        let hidden = self.nameable.drain(..);
        let mut names: Vec<_> = hidden.map(|hidden| (hidden, "(name)".to_owned())).collect();
        names.push((film.to_owned(), "film".to_owned()));
        names.push((self.file.clone(), name.clone()));
        self.reason = without_names(&self.reason, &mut names);
        self.file = name;
    }
}

fn canal_facts(reference: &Reference) -> Vec<ReferenceCanalFacts> {
    let in_mm = reference.has_scale();
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

/// The case files named or found in the folders named, each once, without
/// those of the reference found in a folder.
///
/// # Errors
/// [`GradeError::Traces`]: a folder cannot be read or holds no case.
pub fn trace_files(traces: &[PathBuf], reference: &[PathBuf]) -> Result<Vec<PathBuf>, GradeError> {
    let same = |path: &Path| fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let references: Vec<PathBuf> = reference.iter().map(|p| same(p)).collect();
    let mut seen = std::collections::HashSet::new();
    let mut files = Vec::new();
    for path in traces {
        if !path.is_dir() {
            if seen.insert(same(path)) {
                files.push(path.clone());
            }
            continue;
        }
        let fault = |reason: String| GradeError::Traces {
            path: path.clone(),
            reason,
        };
        let mut found = Vec::new();
        for entry in fs::read_dir(path).map_err(|e| fault(e.to_string()))? {
            let entry = entry.map_err(|e| fault(e.to_string()))?.path();
            let is_case = entry
                .file_name()
                .is_some_and(|name| name.to_string_lossy().ends_with(CASE_ENDING));
            if is_case && !references.contains(&same(&entry)) {
                found.push(entry);
            }
        }
        if found.is_empty() {
            return Err(fault(format!("no *{CASE_ENDING} to grade in this folder")));
        }
        found.sort();
        files.extend(found.into_iter().filter(|file| seen.insert(same(file))));
    }
    Ok(files)
}

impl ClassGrade {
    /// Replaces names by numbers, in order of the files: students and their
    /// files, the reference's cases, the film's path. Reasons and warnings
    /// that would give a name away lose it too.
    pub fn numbers_for_names(&mut self) {
        self.numbers_for_names_among(&mut HashMap::new());
    }

    /// The same with the numbers that `numbers` has already given, so that a
    /// student keeps one number over several classes.
    pub fn numbers_for_names_among(&mut self, numbers: &mut HashMap<String, usize>) {
        let mut replaced: Vec<(String, String)> = Vec::new();
        for (index, trace) in self.traces.iter_mut().enumerate() {
            let next = numbers.len() + 1;
            let number = *numbers.entry(trace.student.clone()).or_insert(next);
            let student = number.to_string();
            replaced.push((trace.student.clone(), format!("student {number}")));
            trace.student = student;
            let file = format!("file {}", index + 1);
            replaced.push((trace.file.clone(), file.clone()));
            trace.file = file;
        }
        for (index, case) in self.reference.cases.iter_mut().enumerate() {
            let name = format!("reference {}", index + 1);
            replaced.push((case.clone(), name.clone()));
            *case = name;
        }
        let reference_film = std::mem::replace(&mut self.reference.film, "film".to_owned());
        for (index, refused) in self.refused.iter_mut().enumerate() {
            refused.hide_names(index + 1, &reference_film);
        }
        for text in &mut self.warnings {
            *text = without_names(text, &mut replaced);
        }
        if let super::class::Statistic::Refused { refused } = &mut self.class.length_icc {
            for (name, number) in &replaced {
                if let Some(at) = refused.find(&format!(" of {name})")) {
                    refused.replace_range(at..at + 5 + name.len(), &format!(" of {number})"));
                    break;
                }
            }
        }
    }
}

/// `text` with every name replaced. Longer names go first, so that no part of
/// one is left standing.
fn without_names(text: &str, names: &mut [(String, String)]) -> String {
    names.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
    names
        .iter()
        .filter(|(name, _)| !name.is_empty())
        .fold(text.to_owned(), |text, (name, number)| {
            text.replace(name, number)
        })
}

/// What a message about this case may name: the film's path, as written in
/// the case and as read, and the student.
fn nameable(path: &Path) -> Vec<String> {
    let Ok(case) = case::load(path) else {
        return Vec::new();
    };
    let film = case::film_path(&case, path).display().to_string();
    let written = case.film.path.clone();
    let student = Submission::new(path.display().to_string(), case).student;
    vec![film, written, student]
}
