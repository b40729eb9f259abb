//! A long job the window can watch and stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use egui::{ProgressBar, Ui};

use crate::grading::class::Watch;

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

    /// What it does and how far it is, in words.
    pub fn words(&self) -> String {
        match self.progress() {
            (_, 0) => format!("{}…", self.doing),
            (done, total) => format!("{} {done} of {total}", self.doing),
        }
    }

    /// Progress with a button that stops it.
    pub fn show(&self, ui: &mut Ui) {
        let (done, total) = self.progress();
        let words = self.words();
        ui.horizontal(|ui| {
            let share = done as f32 / total.max(1) as f32;
            ui.add(ProgressBar::new(share).desired_width(300.0))
                .accessible_name(&words);
            if ui.button("Stop").clicked() {
                self.stop();
            }
            // Beside the bar: on it, words would stand half on either ground.
            ui.label(&words);
        });
    }
}
