//! Watching a job of the archive: how far it is, and whether to stop.

use std::sync::atomic::{AtomicBool, Ordering};

/// Told how far a job is; asked whether it shall stop.
pub struct Watch<'a> {
    /// Done, and of how many where that is known.
    pub progress: &'a (dyn Fn(usize, Option<usize>) + Sync),
    /// Set from outside to stop.
    pub cancel: &'a AtomicBool,
}

impl Watch<'_> {
    pub(crate) fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    pub(crate) fn tell(&self, done: usize, total: Option<usize>) {
        (self.progress)(done, total);
    }
}
