//! Work that must not hold up the window: named, on its own thread, polled
//! once a frame.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

use super::file_chooser::Answer;
use super::long_job::{LongJob, QUIET_TIME};
use crate::progress::Progress;

/// What a job is for; a second one with the same name is refused while the
/// first runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum JobName {
    /// Asking the user for a file.
    FileDialog,
    /// Reading and decoding a film or case.
    Open,
    /// Writing the case.
    Save,
    /// Writing the recovery copy.
    Autosave,
    /// Computing the contrast-limited copy of the film.
    LocalContrast,
    /// Writing a report, table or picture.
    Record,
    /// Sending a report to the printer.
    Print,
    /// Looking for a file or a canal on the film.
    Assist,
    /// Looking over the whole film for what it shows.
    Look,
    /// Drawing the intervals of the findings.
    Intervals,
    /// Grading a class.
    Grade,
    /// Making an exercise set.
    Practice,
    /// Comparing two films.
    Compare,
    /// Asking the archive whether it answers.
    ArchiveTest,
    /// Listing studies of the archive.
    ArchiveSearch,
    /// Listing the films of a study.
    ArchiveFilms,
    /// Fetching small pictures of a study's films.
    ArchiveThumbnails,
    /// Fetching a film from the archive.
    ArchiveFetch,
    /// Sending to the archive.
    ArchiveSend,
    /// Reading what waits to be sent.
    ArchiveQueue,
}

impl JobName {
    /// What it does, as a sentence begins.
    pub fn words(self) -> &'static str {
        match self {
            Self::FileDialog => "Choosing a file",
            Self::Open => "Opening the file",
            Self::Save => "Saving the case",
            Self::Autosave => "Keeping a recovery copy",
            Self::LocalContrast => "Raising the local contrast",
            Self::Record => "Writing the record",
            Self::Print => "Printing",
            Self::Assist | Self::Look => "Looking at the film",
            Self::Intervals => "Working out the intervals",
            Self::Grade => "Grading",
            Self::Practice => "Making the exercise set",
            Self::Compare => "Comparing the films",
            Self::ArchiveTest => "Asking the archive",
            Self::ArchiveSearch => "Searching the archive",
            Self::ArchiveFilms => "Listing the films",
            Self::ArchiveThumbnails => "Fetching small pictures",
            Self::ArchiveFetch => "Fetching the film",
            Self::ArchiveSend => "Sending to the archive",
            Self::ArchiveQueue => "Reading what waits to be sent",
        }
    }
}

/// Running jobs and where their results of type `T` arrive.
pub struct Jobs<T> {
    running: HashMap<JobName, Receiver<T>>,
}

impl<T> Default for Jobs<T> {
    fn default() -> Self {
        Self {
            running: HashMap::new(),
        }
    }
}

/// What has become of a job.
pub enum JobEnd<T> {
    /// Its result.
    Done(T),
    /// Its thread ended without one.
    Lost(JobName),
}

impl<T: Send + 'static> Jobs<T> {
    /// Starts a job; `false` when one of that name runs already. The window
    /// is repainted when the result arrives.
    pub fn start(
        &mut self,
        ctx: &egui::Context,
        name: JobName,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> bool {
        if self.is_running(name) {
            return false;
        }
        let (sender, receiver) = channel();
        let ctx = ctx.clone();
        let spawned = std::thread::Builder::new()
            .name(format!("{name:?}"))
            .spawn(move || {
                // Wakes the window on every way out, a panic included.
                let _wake = Wake(ctx);
                // The window may have closed meanwhile.
                let _ = sender.send(work());
            });
        if spawned.is_ok() {
            self.running.insert(name, receiver);
        }
        spawned.is_ok()
    }

    /// Starts a long job that can be watched and stopped by what is given back;
    /// `None` when one of that name runs already. `doing` begins a sentence.
    pub fn start_long(
        &mut self,
        ctx: &egui::Context,
        name: JobName,
        doing: &'static str,
        work: impl FnOnce(&Progress) -> T + Send + 'static,
    ) -> Option<LongJob> {
        let running = LongJob::begin(doing);
        let (watched, waker) = (running.clone(), ctx.clone());
        let started = self.start(ctx, name, move || {
            watched.watched(|| waker.request_repaint(), work)
        });
        // By then it may be worth showing, though nothing was told of it.
        ctx.request_repaint_after(QUIET_TIME);
        started.then_some(running)
    }

    /// Waits for the answer to a question about one file or folder, which
    /// `outcome` makes a result of; `None`: nothing was chosen.
    pub fn await_file(
        &mut self,
        ctx: &egui::Context,
        answer: Answer,
        outcome: impl FnOnce(Option<PathBuf>) -> T + Send + 'static,
    ) {
        self.start(ctx, JobName::FileDialog, move || {
            outcome(answer.wait().into_iter().next())
        });
    }

    /// A job of that name has not been polled to its end.
    pub fn is_running(&self, name: JobName) -> bool {
        self.running.contains_key(&name)
    }

    /// Results that have arrived since the last frame.
    pub fn poll(&mut self) -> Vec<JobEnd<T>> {
        let mut ends = Vec::new();
        self.running
            .retain(|&name, receiver| match receiver.try_recv() {
                Ok(result) => {
                    ends.push(JobEnd::Done(result));
                    false
                }
                Err(TryRecvError::Empty) => true,
                Err(TryRecvError::Disconnected) => {
                    ends.push(JobEnd::Lost(name));
                    false
                }
            });
        ends
    }
}

struct Wake(egui::Context);

impl Drop for Wake {
    fn drop(&mut self) {
        self.0.request_repaint();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    fn poll_until_one<T: Send + 'static>(jobs: &mut Jobs<T>) -> JobEnd<T> {
        loop {
            if let Some(end) = jobs.poll().pop() {
                return end;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn a_second_job_of_the_same_name_is_refused_until_the_first_has_ended() {
        let ctx = egui::Context::default();
        let mut jobs = Jobs::default();
        let (go, wait) = mpsc::channel::<()>();
        assert!(jobs.start(&ctx, JobName::Save, move || {
            wait.recv().expect("the test lets it go");
            1
        }));
        assert!(!jobs.start(&ctx, JobName::Save, || 2));
        assert!(jobs.start(&ctx, JobName::Open, || 3));
        assert!(matches!(poll_until_one(&mut jobs), JobEnd::Done(3)));
        go.send(()).expect("the job waits");
        assert!(matches!(poll_until_one(&mut jobs), JobEnd::Done(1)));
        assert!(!jobs.is_running(JobName::Save));
    }

    #[test]
    fn a_long_job_is_stopped_by_what_its_start_gives_back() {
        let ctx = egui::Context::default();
        let mut jobs = Jobs::default();
        let until_stopped = |progress: &Progress| {
            while !progress.is_cancelled() {
                std::thread::yield_now();
            }
            7
        };
        let running = jobs.start_long(&ctx, JobName::Open, "Reading", until_stopped);
        let second = jobs.start_long(&ctx, JobName::Open, "Reading", |_| 8);
        assert!(second.is_none(), "the first is under way");
        running.expect("started").cancel();
        assert!(matches!(poll_until_one(&mut jobs), JobEnd::Done(7)));
    }

    #[test]
    fn a_job_that_dies_is_reported_and_its_name_free_again() {
        let ctx = egui::Context::default();
        let mut jobs = Jobs::<u32>::default();
        jobs.start(&ctx, JobName::Open, || panic!("expected in this test"));
        assert!(matches!(
            poll_until_one(&mut jobs),
            JobEnd::Lost(JobName::Open)
        ));
        assert!(jobs.start(&ctx, JobName::Open, || 4));
    }
}
