//! The report on paper, by the system's own print command.

use std::path::Path;
use std::process::{Command as Program, Stdio};

use egui::Context;

use super::DesktopApp;
use super::job_result::JobResult;
use crate::desktop::state::jobs::JobName;
use crate::desktop::state::records::RecordKind;
use crate::report::Existing;

/// Print commands that are tried, in this order.
const PRINTERS: [&str; 2] = ["lp", "lpr"];

impl DesktopApp {
    /// Writes the report and hands it to the printer, beside the window.
    pub(super) fn print(&mut self, ctx: &Context) {
        let Some(order) = self.record_order() else {
            return;
        };
        let started = self.jobs.start(ctx, JobName::Print, move || {
            let printed = tempfile::tempdir()
                .map_err(|error| format!("The report cannot be written: {error}"))
                .and_then(|folder| {
                    let report = folder.path().join("lengthfilm-report.pdf");
                    let path = RecordKind::Pdf.with_ending(report);
                    order.write(&path, Existing::Keep)?;
                    hand_over(&path)
                });
            JobResult::Printed(printed)
        });
        if !started {
            self.session.notify("Still printing the last report");
        }
    }
}

/// Gives a file to the first print command there is. It has been read when the
/// command ends.
fn hand_over(path: &Path) -> Result<(), String> {
    for name in PRINTERS {
        let run = Program::new(name).arg(path).stdin(Stdio::null()).output();
        match run {
            Ok(done) if done.status.success() => return Ok(()),
            Ok(done) => {
                let said = String::from_utf8_lossy(&done.stderr);
                let said = said.lines().next().unwrap_or("no reason given").to_owned();
                return Err(format!("Not printed: {name} said: {said}"));
            }
            Err(_) => {}
        }
    }
    Err(
        "Not printed: this system has no print command (lp or lpr). Save the report as PDF \
         (Ctrl+P) and print it from there"
            .to_owned(),
    )
}
