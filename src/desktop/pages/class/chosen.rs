//! What is done with the files that a dialog brought.

use std::path::PathBuf;

use egui::Context;

use super::ClassPage;
use super::choice::Wanted;
use crate::atomic_file;
use crate::desktop::state::session::Session;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;

impl ClassPage {
    /// Takes the files that were chosen.
    pub(super) fn take_chosen(
        &mut self,
        ctx: &Context,
        wanted: Wanted,
        paths: Vec<PathBuf>,
        session: &mut Session,
    ) {
        match wanted {
            Wanted::Reference => self.choice.add_reference(paths),
            Wanted::Sealed => {
                if let Some(path) = paths.into_iter().next() {
                    self.choice.set_sealed(path);
                }
            }
            Wanted::OpenTruth => {
                if let Some(folder) = paths.first() {
                    self.open_truth_to(ctx, folder);
                }
            }
            Wanted::Traces | Wanted::TraceFolder => self.choice.add_traces(paths),
            Wanted::Rubric => {
                for path in paths {
                    match Rubric::load(&path) {
                        Ok(rubric) => self.choice.rubric = Some((Some(path), rubric)),
                        Err(problem) => session.report_error(problem.to_string()),
                    }
                }
            }
            Wanted::Roster => {
                for path in paths {
                    match Roster::load(&path) {
                        Ok(roster) => self.choice.roster = Some((path, roster)),
                        Err(problem) => session.report_error(problem),
                    }
                }
            }
            Wanted::SaveRubric => {
                if let Some((path, (at, rubric))) = paths.first().zip(self.choice.rubric.as_mut()) {
                    match atomic_file::write(path, rubric.to_json().as_bytes()) {
                        Ok(()) => *at = Some(path.clone()),
                        Err(error) => {
                            let reason = atomic_file::reason(&error);
                            session.report_error(format!("{}: {reason}", path.display()));
                        }
                    }
                }
            }
            Wanted::Record(kind) => {
                if let Some(path) = paths.first() {
                    self.save_to(ctx, kind, path);
                }
            }
        }
    }
}
