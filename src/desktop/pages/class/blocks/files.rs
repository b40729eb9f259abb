//! Files the page asks the user for.

use egui::Context;

use super::work::BlocksRecord;
use super::{Blocks, ChosenFor, Outcome};
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::session::Session;

const TABLES: &[FileKind] = &[
    FileKind {
        name: "Tables",
        endings: &["csv", "txt", "tsv"],
    },
    ALL_FILES,
];
const RUBRICS: &[FileKind] = &[
    FileKind {
        name: "Rubrics",
        endings: &["json"],
    },
    ALL_FILES,
];

impl Blocks {
    /// Asks for what is wanted.
    pub(super) fn ask(&mut self, ctx: &Context, session: &mut Session, wanted: ChosenFor) {
        let folder = self.pairs.as_ref();
        let folder = folder.and_then(|(path, _)| Some(path.parent()?.to_owned()));
        let new_table = Wanted::NewFile { ending: "csv" };
        let (title, kind, kinds, name) = match wanted {
            ChosenFor::Pairs => ("Choose the table of pairs", Wanted::File, TABLES, ""),
            ChosenFor::Rubric => ("Choose a rubric for shaping", Wanted::File, RUBRICS, ""),
            ChosenFor::Record(BlocksRecord::Table) => (
                "Save the table of the class",
                new_table,
                TABLES,
                "blocks-graded.csv",
            ),
            ChosenFor::Record(BlocksRecord::Totals) => {
                ("Save the totals", new_table, TABLES, "blocks-totals.csv")
            }
            ChosenFor::Record(BlocksRecord::Sheets) => {
                ("Folder for the feedback sheets", Wanted::Folder, TABLES, "")
            }
        };
        let question = Question {
            title,
            wanted: kind,
            kinds,
            folder,
            name: name.to_owned(),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, move |path| Outcome::Chosen(wanted, path));
    }
}
