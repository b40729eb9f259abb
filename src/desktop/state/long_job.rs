//! A long job that can be watched and stopped.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::progress::Progress;

/// Work shorter than this shows no progress.
pub const QUIET_TIME: Duration = Duration::from_millis(200);

/// A long job under way: the end that the window holds.
#[derive(Clone, Debug)]
pub struct LongJob {
    /// What it does, as a sentence begins.
    doing: &'static str,
    done: Arc<AtomicUsize>,
    total: Arc<AtomicUsize>,
    cancel: Arc<AtomicBool>,
    begun: Instant,
}

impl LongJob {
    /// A job that has not done anything yet; its clock starts.
    pub fn begin(doing: &'static str) -> Self {
        Self {
            doing,
            done: Arc::default(),
            total: Arc::default(),
            cancel: Arc::default(),
            begun: Instant::now(),
        }
    }

    /// How many are done, of how many; of 0 before that is known.
    pub fn progress(&self) -> (usize, usize) {
        let load = |n: &AtomicUsize| n.load(Ordering::Relaxed);
        (load(&self.done), load(&self.total))
    }

    /// Asks it to stop; what is done stays.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    /// It was asked to stop.
    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    /// Runs `work` with a progress that tells this handle, and `wake` whenever
    /// another hundredth is done.
    pub fn watched<T>(&self, wake: impl Fn() + Sync, work: impl FnOnce(&Progress) -> T) -> T {
        let progress = |done: usize, total: usize| {
            self.done.fetch_max(done, Ordering::Relaxed);
            self.total.store(total, Ordering::Relaxed);
            if done.is_multiple_of(total / 100 + 1) {
                wake();
            }
        };
        work(&Progress::new(&self.cancel, &progress))
    }

    /// What it does and how far it is, in words.
    pub fn words(&self) -> String {
        match self.progress() {
            (_, 0) => format!("{}…", self.doing),
            (done, total) => format!("{} {done} of {total}", self.doing),
        }
    }

    /// What it does and how far it is, in per cent, once it has taken longer
    /// than [`QUIET_TIME`].
    pub fn percent_once_slow(&self) -> Option<String> {
        let (done, total) = self.progress();
        let percent = done * 100 / total.max(1);
        self.is_slow()
            .then(|| format!("{}: {percent} %", self.doing))
    }

    /// It has taken longer than [`QUIET_TIME`].
    pub fn is_slow(&self) -> bool {
        self.begun.elapsed() > QUIET_TIME
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_is_told_only_of_work_longer_than_the_quiet_time() {
        let short = LongJob::begin("Looking at the film");
        assert_eq!(short.percent_once_slow(), None);
        let long = LongJob {
            begun: Instant::now()
                .checked_sub(QUIET_TIME + Duration::from_millis(1))
                .expect("the clock has run that long"),
            ..LongJob::begin("Looking at the film")
        };
        long.watched(|| {}, |progress| progress.report(42, 100));
        assert_eq!(
            long.percent_once_slow().as_deref(),
            Some("Looking at the film: 42 %")
        );
    }
}
