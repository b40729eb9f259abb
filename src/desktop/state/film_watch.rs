//! Notices when the film file is replaced while its case is open.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::open_film::FileStamp;
use crate::film::hex_digest;
use crate::input_file;

/// How often the file system is asked.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// Larger files are another film by their size alone.
const MOST_BYTES: u64 = 2 << 30;

/// A thread that looks at one file; ends when dropped.
pub struct FilmWatch {
    stop: Arc<AtomicBool>,
    replaced: Arc<AtomicBool>,
    thread: Option<std::thread::Thread>,
}

impl FilmWatch {
    /// Watches the file whose bytes had this hash and stamp. The window is
    /// repainted only when the content has changed or the file is gone.
    pub fn start(ctx: &egui::Context, path: PathBuf, sha256: String, stamp: FileStamp) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let replaced = Arc::new(AtomicBool::new(false));
        let spawned = std::thread::Builder::new()
            .name("FilmWatch".to_owned())
            .spawn({
                let (ctx, stop, replaced) = (ctx.clone(), stop.clone(), replaced.clone());
                move || {
                    let mut seen = Some(stamp);
                    while !stop.load(Ordering::Relaxed) {
                        let now = FileStamp::of(&path);
                        if now != seen {
                            seen = now;
                            let same = input_file::read(&path, MOST_BYTES)
                                .is_ok_and(|bytes| hex_digest(&bytes) == sha256);
                            if !same {
                                replaced.store(true, Ordering::Relaxed);
                                ctx.request_repaint();
                            }
                        }
                        std::thread::park_timeout(LOOK_EVERY);
                    }
                }
            });
        Self {
            stop,
            replaced,
            thread: spawned.ok().map(|handle| handle.thread().clone()),
        }
    }

    /// The file was replaced since the last call.
    pub fn take_replaced(&self) -> bool {
        self.replaced.swap(false, Ordering::Relaxed)
    }

    /// Looks at once instead of at the next turn.
    pub fn look_now(&self) {
        if let Some(thread) = &self.thread {
            thread.unpark();
        }
    }
}

impl Drop for FilmWatch {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        self.look_now();
    }
}
