//! A log of frame times, for measuring: one line a frame in the file that
//! `LENGTHFILM_FRAME_LOG` names.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::time::Instant;

/// Names the file to write.
const VARIABLE: &str = "LENGTHFILM_FRAME_LOG";

/// Writes `milliseconds since start, milliseconds since last frame,
/// milliseconds of work in the last frame`.
pub struct FrameLog {
    file: BufWriter<File>,
    start: Instant,
    last: Instant,
}

impl FrameLog {
    /// The log the environment asks for, if it does.
    pub fn from_environment() -> Option<Self> {
        let file = File::create(std::env::var_os(VARIABLE)?).ok()?;
        let now = Instant::now();
        Some(Self {
            file: BufWriter::new(file),
            start: now,
            last: now,
        })
    }

    /// Notes that a frame begins; `last_work_s` is the time the one before
    /// took.
    pub fn frame(&mut self, last_work_s: Option<f32>) {
        let now = Instant::now();
        let since_start = now.duration_since(self.start).as_secs_f64() * 1e3;
        let since_last = now.duration_since(self.last).as_secs_f64() * 1e3;
        let work = last_work_s.unwrap_or(0.0) * 1e3;
        self.last = now;
        // A full disk must not stop the window.
        let _ = writeln!(self.file, "{since_start:.2},{since_last:.2},{work:.2}");
        let _ = self.file.flush();
    }
}
