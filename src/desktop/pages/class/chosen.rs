//! What is done with the files that a dialog brought.

use std::path::PathBuf;

use egui::Context;

use super::ClassPage;
use super::choice::Wanted;

impl ClassPage {
    /// Takes the files that were chosen.
    pub(super) fn take_chosen(&mut self, ctx: &Context, wanted: Wanted, paths: Vec<PathBuf>) {
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
            // Read or written where the answer was waited for.
            Wanted::Rubric | Wanted::Roster | Wanted::SaveRubric => {}
            Wanted::Record(kind) => {
                if let Some(path) = paths.first() {
                    self.save_to(ctx, kind, path);
                }
            }
        }
    }
}
