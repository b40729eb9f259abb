//! Progress of work with the archive, for who looks at the terminal.

use std::io::{self, IsTerminal, Write};
use std::sync::atomic::AtomicBool;

use crate::archive::Watch;

/// Runs `work` with a watch that shows progress where somebody looks.
pub(super) fn watched<T>(name: &str, work: impl FnOnce(&Watch) -> T) -> T {
    let shown = io::stderr().is_terminal();
    let progress = |done: usize, total: Option<usize>| {
        if shown {
            let of = total.map_or(String::new(), |total| format!(" of {total}"));
            let _ = write!(io::stderr(), "\r{name} {done}{of} ");
        }
    };
    let cancel = AtomicBool::new(false);
    let result = work(&Watch {
        progress: &progress,
        cancel: &cancel,
    });
    if shown {
        let _ = write!(io::stderr(), "\r");
    }
    result
}
