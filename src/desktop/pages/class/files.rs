//! Files the page asks the user for.

use egui::Context;

use super::choice::ClassRecord;
use super::choice::Wanted;
use super::{ClassPage, Outcome};
use crate::desktop::state::jobs::JobName;

impl ClassPage {
    /// Asks for what is wanted.
    pub(super) fn ask_for_files(&mut self, ctx: &Context, wanted: Wanted) {
        let dialog = rfd::AsyncFileDialog::new();
        let known = self.choice.reference.iter().chain(&self.choice.sealed);
        let known = known.chain(&self.choice.traces);
        let dialog = match known.filter_map(|path| path.parent()).next() {
            Some(folder) => dialog.set_directory(folder),
            None => dialog,
        };
        let cases = |dialog: rfd::AsyncFileDialog| dialog.add_filter("Cases", &["json"]);
        let many = |dialog: rfd::AsyncFileDialog| async move {
            dialog.pick_files().await.unwrap_or_default()
        };
        type Picking = std::pin::Pin<Box<dyn Future<Output = Vec<rfd::FileHandle>> + Send>>;
        let picking: Picking = match wanted {
            Wanted::Reference => Box::pin(many(cases(
                dialog.set_title("Choose the cases of the experts"),
            ))),
            Wanted::Traces => Box::pin(many(cases(dialog.set_title("Choose cases to grade")))),
            Wanted::TraceFolder => {
                let dialog = dialog.set_title("Choose a folder of cases");
                Box::pin(async move { dialog.pick_folder().await.into_iter().collect() })
            }
            Wanted::Sealed => {
                let dialog = dialog
                    .set_title("Choose the sealed truth of a practice set")
                    .add_filter("Sealed truth", &["sealed"]);
                Box::pin(async move { dialog.pick_file().await.into_iter().collect() })
            }
            Wanted::OpenTruth => {
                let dialog = dialog.set_title("Choose a folder for the truth in the open");
                Box::pin(async move { dialog.pick_folder().await.into_iter().collect() })
            }
            Wanted::Rubric => {
                let dialog = dialog
                    .set_title("Choose a rubric")
                    .add_filter("Rubrics", &["json"]);
                Box::pin(async move { dialog.pick_file().await.into_iter().collect() })
            }
            Wanted::Roster => {
                let dialog = dialog
                    .set_title("Choose a list of students")
                    .add_filter("Lists (CSV, text)", &["csv", "txt"]);
                Box::pin(async move { dialog.pick_file().await.into_iter().collect() })
            }
            Wanted::SaveRubric => {
                let dialog = dialog
                    .set_title("Save the rubric")
                    .set_file_name("rubric.json")
                    .add_filter("Rubrics", &["json"]);
                Box::pin(async move { dialog.save_file().await.into_iter().collect() })
            }
            Wanted::Record(ClassRecord::Table) => {
                let dialog = dialog
                    .set_title("Save the table")
                    .set_file_name("class.csv")
                    .add_filter("Table (CSV)", &["csv"]);
                Box::pin(async move { dialog.save_file().await.into_iter().collect() })
            }
            Wanted::Record(ClassRecord::Totals) => {
                let dialog = dialog
                    .set_title("Save the totals")
                    .set_file_name("totals.csv")
                    .add_filter("Table (CSV)", &["csv"]);
                Box::pin(async move { dialog.save_file().await.into_iter().collect() })
            }
            Wanted::Record(ClassRecord::Summary) => {
                let dialog = dialog
                    .set_title("Save the summary")
                    .set_file_name("class.pdf")
                    .add_filter("PDF", &["pdf"]);
                Box::pin(async move { dialog.save_file().await.into_iter().collect() })
            }
            Wanted::Record(ClassRecord::Sheets) => {
                let dialog = dialog.set_title("Choose a folder for the feedback sheets");
                Box::pin(async move { dialog.pick_folder().await.into_iter().collect() })
            }
        };
        self.jobs.start(ctx, JobName::FileDialog, move || {
            let files = pollster::block_on(picking);
            Outcome::Chosen {
                wanted,
                paths: files.iter().map(|file| file.path().to_owned()).collect(),
            }
        });
    }
}
