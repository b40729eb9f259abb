//! Files the page asks the user for.

use std::path::PathBuf;

use egui::Context;

use super::super::file_kinds::{FILMS, TABLES};
use super::{ChosenFor, Marking, Outcome};
use crate::desktop::state::file_chooser::{Question, Wanted};
use crate::desktop::state::session::Session;

/// What is asked, wherever it begins.
fn question(wanted: ChosenFor) -> Question {
    let table = |title| Question::new(title, Wanted::File, TABLES);
    let folder = |title| Question::new(title, Wanted::Folder, &[]);
    match wanted {
        ChosenFor::HandIns => folder("Folder of hand-ins"),
        ChosenFor::Film => Question::new("The film of the hand-ins", Wanted::File, FILMS),
        ChosenFor::Folder => folder("New or empty folder for the copies"),
        ChosenFor::NewKey => Question::of_new_file(
            "Where the key is kept: not in the folder of the copies",
            "key.csv",
            "csv",
            TABLES,
        ),
        ChosenFor::Table(place) => table(
            [
                "Choose the key",
                "Choose the marks of marker 1",
                "Choose the marks of marker 2",
            ][place],
        ),
        ChosenFor::Marks => {
            Question::of_new_file("Save the marks", "marks-by-student.csv", "csv", TABLES)
        }
        ChosenFor::Ratings => table("Choose a table of ratings"),
    }
}

impl Marking {
    /// Asks for what is wanted.
    pub(super) fn ask(&mut self, ctx: &Context, session: &mut Session, wanted: ChosenFor) {
        let beside = |path: &Option<PathBuf>| Some(path.as_ref()?.parent()?.to_owned());
        let question = Question {
            folder: match wanted {
                ChosenFor::Film | ChosenFor::Folder => beside(&self.hand_ins),
                ChosenFor::NewKey => beside(&self.folder),
                // Beside the key: names do not belong to the copies.
                ChosenFor::Marks => beside(&self.tables[0]),
                ChosenFor::HandIns | ChosenFor::Table(_) | ChosenFor::Ratings => None,
            },
            ..question(wanted)
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs
            .await_file(ctx, answer, move |path| Outcome::Chosen(wanted, path));
    }
}
