//! Progress and cancelling of long work.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

/// How long a wait goes on without asking whether it should stop.
pub const PATIENCE: Duration = Duration::from_millis(50);

/// The caller asked to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped")]
pub struct Cancelled;

/// What long work reports to and is stopped by.
#[derive(Clone, Copy)]
pub struct Progress<'a> {
    cancel: &'a AtomicBool,
    report: &'a (dyn Fn(usize, usize) + Sync),
}

impl<'a> Progress<'a> {
    /// Stops soon after `cancel` becomes true; `report` is called with how many
    /// steps are done, of how many; from any thread.
    pub fn new(cancel: &'a AtomicBool, report: &'a (dyn Fn(usize, usize) + Sync)) -> Self {
        Self { cancel, report }
    }

    /// The same cancelling, reported to another listener.
    pub fn reported_to<'b>(&self, report: &'b (dyn Fn(usize, usize) + Sync)) -> Progress<'b>
    where
        'a: 'b,
    {
        Progress::new(self.cancel, report)
    }

    /// The caller asked to stop.
    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    /// # Errors
    /// [`Cancelled`] when the caller asked to stop.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.is_cancelled() {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }

    /// What `work` gives, or within [`PATIENCE`] after the caller asked to stop
    /// an end of the wait: for what may hang in the system, as a read on a
    /// network drive whose server has gone. It runs on a thread of its own,
    /// which is left behind then.
    ///
    /// # Errors
    /// [`Cancelled`] when the caller asked to stop.
    ///
    /// # Panics
    /// As `work` does.
    pub fn wait_for<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Cancelled> {
        self.check()?;
        let (sender, result) = channel();
        let waited_for = thread::spawn(move || {
            // A receiver that has gone was told to stop.
            let _ = sender.send(work());
        });
        loop {
            match result.recv_timeout(PATIENCE) {
                Ok(result) => return Ok(result),
                Err(RecvTimeoutError::Timeout) => self.check()?,
                Err(RecvTimeoutError::Disconnected) => match waited_for.join() {
                    Err(panic) => std::panic::resume_unwind(panic),
                    Ok(()) => unreachable!("a thread that ends has sent its result"),
                },
            }
        }
    }

    /// Reports that `done` of `total` steps are done.
    pub fn report(&self, done: usize, total: usize) {
        (self.report)(done, total);
    }

    /// Reports the share done, 0..=1, in whole per cent, and checks for
    /// cancelling.
    ///
    /// # Errors
    /// [`Cancelled`] when the caller asked to stop.
    pub fn reached(&self, share: f64) -> Result<(), Cancelled> {
        self.report((share * 100.0).round() as usize, 100);
        self.check()
    }
}

impl Progress<'static> {
    /// Reported to nobody and never stopped.
    pub fn unwatched() -> Self {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Progress::new(&NEVER, &|_, _| {})
    }
}

/// Steps of a known number, counted from any thread.
pub struct Steps<'a> {
    progress: &'a Progress<'a>,
    done: AtomicUsize,
    total: usize,
}

impl<'a> Steps<'a> {
    /// None of `total` is done.
    pub fn new(progress: &'a Progress<'a>, total: usize) -> Self {
        Self {
            progress,
            done: AtomicUsize::new(0),
            total,
        }
    }

    /// One more is done.
    pub fn step(&self) {
        self.advance(1);
    }

    /// `steps` more are done.
    pub fn advance(&self, steps: usize) {
        let done = self.done.fetch_add(steps, Ordering::Relaxed) + steps;
        self.progress.report(done, self.total);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn a_wait_ends_with_the_work_or_when_it_is_told_to() {
        let nobody = Progress::unwatched();
        assert_eq!(nobody.wait_for(|| 3), Ok(3));
        let cancel = AtomicBool::new(false);
        let progress = Progress::new(&cancel, &|_, _| {});
        // Work that goes on until the test ends.
        let (_go, hangs) = channel::<()>();
        thread::scope(|scope| {
            scope.spawn(|| {
                thread::sleep(PATIENCE);
                cancel.store(true, Ordering::Relaxed);
            });
            assert_eq!(
                progress.wait_for(move || hangs.recv().is_ok()),
                Err(Cancelled)
            );
        });
        assert_eq!(progress.wait_for(|| 3), Err(Cancelled), "nothing is begun");
        let died = std::panic::catch_unwind(|| {
            Progress::unwatched().wait_for(|| panic!("expected in this test"))
        });
        assert!(died.is_err());
    }

    #[test]
    fn steps_of_parts_are_counted_over_the_whole() {
        let cancel = AtomicBool::new(false);
        let told = Mutex::new(Vec::new());
        let tell = |done, total| told.lock().unwrap().push((done, total));
        let progress = Progress::new(&cancel, &tell);
        let whole = Steps::new(&progress, 5);
        for part in [2, 3] {
            let count = |_, _| whole.step();
            let of_part = progress.reported_to(&count);
            let steps = Steps::new(&of_part, part);
            (0..part).for_each(|_| steps.step());
            assert!(!of_part.is_cancelled());
        }
        assert_eq!(
            *told.lock().unwrap(),
            [(1, 5), (2, 5), (3, 5), (4, 5), (5, 5)]
        );
        cancel.store(true, Ordering::Relaxed);
        assert_eq!(progress.reached(0.29), Err(Cancelled));
        assert_eq!(told.lock().unwrap().last(), Some(&(29, 100)));
    }
}
