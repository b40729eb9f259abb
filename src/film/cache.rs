//! Films opened once, however many cases name them.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use super::{FilmError, OpenLimits, OpenedFilm, open_watched};
use crate::progress::Progress;

/// What is kept of a film, or why it could not be opened.
type Kept<T> = Result<Arc<T>, Arc<FilmError>>;

/// What is kept of each film, by its path.
pub struct FilmCache<'a, T> {
    kept: Mutex<HashMap<PathBuf, Kept<T>>>,
    progress: Progress<'a>,
}

impl<T> Default for FilmCache<'static, T> {
    fn default() -> Self {
        Self {
            kept: Mutex::default(),
            progress: Progress::unwatched(),
        }
    }
}

impl<T> FilmCache<'_, T> {
    /// The same films; opens nothing more once `progress` was told to stop.
    #[must_use]
    pub fn stopped_by<'b>(self, progress: &Progress<'b>) -> FilmCache<'b, T> {
        FilmCache {
            kept: self.kept,
            progress: progress.reported_to(&|_, _| {}),
        }
    }

    /// What stops it.
    pub fn progress(&self) -> &Progress<'_> {
        &self.progress
    }

    /// What `keep` makes of the film at `path`; opened at the first call only.
    ///
    /// # Errors
    /// Why it cannot be opened, at every call.
    pub fn get(&self, path: &Path, keep: impl FnOnce(OpenedFilm) -> T) -> Kept<T> {
        let lock = || {
            self.kept
                .lock()
                .unwrap_or_else(|poisoned| poisoned.into_inner())
        };
        if let Some(found) = lock().get(path) {
            return found.clone();
        }
        // Opened outside the lock: two threads may open one film twice, but
        // none waits for another's film.
        let kept = open_watched(path, &OpenLimits::default(), &self.progress)
            .map(|opened| Arc::new(keep(opened)))
            .map_err(Arc::new);
        lock().insert(path.to_owned(), kept.clone());
        kept
    }
}
