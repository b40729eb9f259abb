//! Cancelling and progress of work that runs beside the window.

use std::sync::atomic::{AtomicBool, Ordering};

use super::TraceError;

/// What a running assistant listens to and reports to.
#[derive(Clone, Copy)]
pub struct Watch<'a> {
    cancel: &'a AtomicBool,
    progress: &'a (dyn Fn(f64) + Sync),
}

impl<'a> Watch<'a> {
    /// Stops soon after `cancel` becomes true; `progress` hears the fraction
    /// done, 0..=1.
    pub fn new(cancel: &'a AtomicBool, progress: &'a (dyn Fn(f64) + Sync)) -> Self {
        Self { cancel, progress }
    }

    /// # Errors
    /// [`TraceError::Cancelled`] when the caller asked to stop.
    pub(super) fn check(&self) -> Result<(), TraceError> {
        if self.cancel.load(Ordering::Relaxed) {
            return Err(TraceError::Cancelled);
        }
        Ok(())
    }

    /// Reports the fraction done and checks for cancelling.
    pub(super) fn reached(&self, fraction: f64) -> Result<(), TraceError> {
        (self.progress)(fraction);
        self.check()
    }
}
