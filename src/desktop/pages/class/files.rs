//! Files the page asks the user for.

use egui::Context;

use super::choice::ClassRecord;
use super::choice::Wanted;
use super::{ClassPage, Outcome};
use crate::atomic_file;
use crate::desktop::state::file_chooser::{self, FileKind, Question};
use crate::desktop::state::jobs::JobName;
use crate::desktop::state::session::Session;
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;

const CASES: &[FileKind] = &[FileKind {
    name: "Cases",
    endings: &["json"],
}];
const RUBRICS: &[FileKind] = &[FileKind {
    name: "Rubrics",
    endings: &["json"],
}];
const SEALED: &[FileKind] = &[FileKind {
    name: "Sealed truth",
    endings: &["sealed"],
}];
const ROSTERS: &[FileKind] = &[FileKind {
    name: "Lists (CSV, text)",
    endings: &["csv", "txt"],
}];
const SUMMARIES: &[FileKind] = &[FileKind {
    name: "PDF",
    endings: &["pdf"],
}];
const TABLES: &[FileKind] = &[FileKind {
    name: "Tables (CSV)",
    endings: &["csv"],
}];

impl ClassPage {
    /// Asks for what is wanted.
    pub(super) fn ask_for_files(&mut self, ctx: &Context, wanted: Wanted, session: &mut Session) {
        use file_chooser::Wanted as W;
        let known = self.choice.reference.iter().chain(&self.choice.sealed);
        let known = known.chain(&self.choice.traces);
        let folder = known.filter_map(|path| path.parent()).next();
        let (title, what, kinds): (_, _, &[FileKind]) = match wanted {
            Wanted::Reference => ("Choose the cases of the experts", W::Files, CASES),
            Wanted::Traces => ("Choose cases to grade", W::Files, CASES),
            Wanted::TraceFolder => ("Choose a folder of cases", W::Folder, &[]),
            Wanted::Sealed => (
                "Choose the sealed truth of an exercise set",
                W::File,
                SEALED,
            ),
            Wanted::OpenTruth => ("Choose a folder for the unsealed truth", W::Folder, &[]),
            Wanted::Rubric => ("Choose a rubric", W::File, RUBRICS),
            Wanted::Roster => ("Choose a list of students", W::File, ROSTERS),
            Wanted::SaveRubric => ("Save the rubric", W::NewFile { ending: "json" }, RUBRICS),
            Wanted::Record(ClassRecord::Table) => {
                ("Save the table", W::NewFile { ending: "csv" }, TABLES)
            }
            Wanted::Record(ClassRecord::Totals) => {
                ("Save the totals", W::NewFile { ending: "csv" }, TABLES)
            }
            Wanted::Record(ClassRecord::Summary) => {
                ("Save the summary", W::NewFile { ending: "pdf" }, SUMMARIES)
            }
            Wanted::Record(ClassRecord::Sheets) => {
                ("Choose a folder for the feedback sheets", W::Folder, &[])
            }
        };
        let question = Question {
            title,
            wanted: what,
            kinds,
            folder: folder.map(std::path::Path::to_owned),
            name: match what {
                W::NewFile { .. } => match wanted {
                    Wanted::SaveRubric => "rubric.json",
                    Wanted::Record(ClassRecord::Totals) => "totals.csv",
                    Wanted::Record(ClassRecord::Summary) => "class.pdf",
                    _ => "class.csv",
                }
                .to_owned(),
                _ => String::new(),
            },
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
