//! Grading beside the window: progress, stopping, and what it brings.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use super::choice::Choice;
use super::density::Density;
use crate::desktop::engine::{self, OpenFilm};
use crate::grading::class::Watch;
use crate::grading::files::{ClassGrade, grade_files};
use crate::units::FilmPoint;

/// A long job under way.
#[derive(Clone, Debug)]
pub struct Running {
    /// What it does, as a sentence begins.
    pub doing: &'static str,
    done: Arc<AtomicUsize>,
    total: Arc<AtomicUsize>,
    cancel: Arc<AtomicBool>,
}

impl Running {
    /// A job that has not done anything yet.
    pub fn begin(doing: &'static str) -> Self {
        Self {
            doing,
            done: Arc::default(),
            total: Arc::default(),
            cancel: Arc::default(),
        }
    }

    /// How many are done, of how many; of 0 before that is known.
    pub fn progress(&self) -> (usize, usize) {
        let load = |n: &AtomicUsize| n.load(Ordering::Relaxed);
        (load(&self.done), load(&self.total))
    }

    /// Asks it to stop; what is done stays.
    pub fn stop(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    /// Runs `work` with a watch that tells this handle, and `wake` whenever
    /// another share is done.
    pub fn watched<T>(&self, wake: impl Fn() + Sync, work: impl FnOnce(&Watch) -> T) -> T {
        let progress = |done: usize, total: usize| {
            self.done.fetch_max(done, Ordering::Relaxed);
            self.total.store(total, Ordering::Relaxed);
            if done.is_multiple_of(total / 100 + 1) {
                wake();
            }
        };
        work(&Watch {
            progress: &progress,
            cancel: &self.cancel,
        })
    }
}

/// A graded class with all that the window shows of it.
pub struct Graded {
    pub class: ClassGrade,
    pub film: OpenFilm,
    pub density: Option<Density>,
}

/// Grades what was chosen.
///
/// # Errors
/// One line in plain words.
pub fn grade(choice: &Choice, watch: &Watch) -> Result<Graded, String> {
    let rubric = choice
        .rubric
        .as_ref()
        .map(|(_, rubric)| rubric.clone())
        .unwrap_or_default();
    let class = grade_files(&choice.reference, &choice.traces, &rubric, watch)
        .map_err(|error| error.to_string())?;
    let film = engine::open_film(class.reference.film.as_ref())?;
    let paths = class.traces.iter().flat_map(|trace| &trace.canals);
    let paths = paths.map(|canal| -> &[FilmPoint] { &canal.picture.path_px });
    Ok(Graded {
        density: Density::of(paths),
        class,
        film,
    })
}
