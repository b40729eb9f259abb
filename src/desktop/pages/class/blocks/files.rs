//! Files the page asks the user for.

use egui::Context;

use super::super::file_kinds::{RUBRICS, TABLES};
use super::work::BlocksRecord;
use super::{Blocks, ChosenFor, Outcome};
use crate::desktop::state::file_chooser::{Question, Wanted};
use crate::desktop::state::session::Session;

/// What is asked, wherever it begins.
fn question(wanted: ChosenFor) -> Question {
    let file = |title, kinds| Question::new(title, Wanted::File, kinds);
    let table = |title, name| Question::of_new_file(title, name, "csv", TABLES);
    match wanted {
        ChosenFor::Pairs => file("Choose the table of pairs", TABLES),
        ChosenFor::Rubric => file("Choose a rubric for shaping", RUBRICS),
        ChosenFor::Record(BlocksRecord::Table) => {
            table("Save the table of the class", "blocks-graded.csv")
        }
        ChosenFor::Record(BlocksRecord::Totals) => table("Save the totals", "blocks-totals.csv"),
        ChosenFor::Record(BlocksRecord::Sheets) => {
            Question::new("Folder for the feedback sheets", Wanted::Folder, &[])
        }
    }
}

impl Blocks {
    /// Asks for what is wanted.
    pub(super) fn ask(&mut self, ctx: &Context, session: &mut Session, wanted: ChosenFor) {
        let folder = self.pairs.as_ref();
        let question = Question {
            folder: folder.and_then(|(path, _)| Some(path.parent()?.to_owned())),
            ..question(wanted)
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, move |path| Outcome::Chosen(wanted, path));
    }
}
