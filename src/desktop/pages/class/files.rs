//! Files the page asks the user for.

use std::path::Path;

use egui::Context;

use super::choice::{ClassRecord, Wanted};
use super::file_kinds::{CASES, PAGES, RUBRICS, SEALED, TABLES};
use super::{ClassPage, Outcome};
use crate::atomic_file;
use crate::desktop::state::file_chooser::{Question, Wanted as Kind};
use crate::desktop::state::jobs::JobName;
use crate::desktop::state::session::Session;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;

/// What is asked, wherever it begins.
fn question(wanted: Wanted) -> Question {
    let file = |title, kinds| Question::new(title, Kind::File, kinds);
    let files = |title| Question::new(title, Kind::Files, CASES);
    let folder = |title| Question::new(title, Kind::Folder, &[]);
    match wanted {
        Wanted::Reference => files("Choose the cases of the experts"),
        Wanted::Traces => files("Choose cases to grade"),
        Wanted::TraceFolder => folder("Choose a folder of cases"),
        Wanted::Sealed => file("Choose the sealed truth of an exercise set", SEALED),
        Wanted::OpenTruth => folder("Choose a folder for the unsealed truth"),
        Wanted::Rubric => file("Choose a rubric", RUBRICS),
        Wanted::Roster => file("Choose a list of students", TABLES),
        Wanted::SaveRubric => {
            Question::of_new_file("Save the rubric", "rubric.json", "json", RUBRICS)
        }
        Wanted::Record(ClassRecord::Table) => {
            Question::of_new_file("Save the table", "class.csv", "csv", TABLES)
        }
        Wanted::Record(ClassRecord::Totals) => {
            Question::of_new_file("Save the totals", "totals.csv", "csv", TABLES)
        }
        Wanted::Record(ClassRecord::Summary) => {
            Question::of_new_file("Save the summary", "class.pdf", "pdf", PAGES)
        }
        Wanted::Record(ClassRecord::Sheets) => folder("Choose a folder for the feedback sheets"),
    }
}

impl ClassPage {
    /// Asks for what is wanted.
    pub(super) fn ask_for_files(&mut self, ctx: &Context, wanted: Wanted, session: &mut Session) {
        let known = self.choice.reference.iter().chain(&self.choice.sealed);
        let mut known = known.chain(&self.choice.traces);
        let question = Question {
            folder: known.find_map(|path| path.parent()).map(Path::to_owned),
            ..question(wanted)
        };
        let answer = session.ask_for_file(ctx, question);
        let changed = self.choice.rubric.as_ref();
        let rubric = changed.map_or(String::new(), |(_, rubric)| rubric.to_json());
        // What is read or written at once is so here: the disk may be slow.
        self.jobs.start(ctx, JobName::FileDialog, move || {
            let paths = answer.wait();
            match (wanted, paths.last().cloned()) {
                (Wanted::Rubric, Some(path)) => Outcome::Rubric(
                    Rubric::load(&path)
                        .map_err(|error| error.to_string())
                        .map(|rubric| (path, rubric)),
                ),
                (Wanted::Roster, Some(path)) => {
                    Outcome::Roster(Roster::load(&path).map(|roster| (path, roster)))
                }
                (Wanted::SaveRubric, Some(path)) => Outcome::RubricSaved(
                    atomic_file::write(&path, rubric.as_bytes())
                        .map_err(|e| format!("{}: {}", path.display(), atomic_file::reason(&e)))
                        .map(|()| path),
                ),
                _ => Outcome::Chosen { wanted, paths },
            }
        });
    }
}
