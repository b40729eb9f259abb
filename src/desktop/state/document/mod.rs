//! The document: one case, where it is kept, and every step that made it.

mod history;

use std::path::{Path, PathBuf};

use super::edit::{Applied, Edit};
use crate::case::Case;
use crate::case::edit::{Handle, Placed, Tool, insert_near, move_to, place};
use crate::units::FilmPoint;
use history::{History, MergeKey};

/// A case being worked on.
pub struct Document {
    case: Case,
    /// File it was read from or last saved to.
    case_path: Option<PathBuf>,
    history: History,
    /// The case before a drag that has not ended.
    before_live: Option<Case>,
    /// The case as the file holds it.
    saved: Case,
    /// SHA-256 of that file.
    file_sha256: Option<String>,
    revision: u64,
}

impl Document {
    /// A case that equals what its file holds, or a fresh one.
    pub fn new(case: Case, case_path: Option<PathBuf>) -> Self {
        Self {
            saved: case.clone(),
            case,
            case_path,
            history: History::default(),
            before_live: None,
            file_sha256: None,
            revision: 1,
        }
    }

    /// States the SHA-256 of the file it was read from.
    pub fn read_as(mut self, file_sha256: Option<String>) -> Self {
        self.file_sha256 = file_sha256;
        self
    }

    /// A case that no file holds yet: recovered after a crash or duplicated.
    pub fn unsaved(case: Case, case_path: Option<PathBuf>, saved: Case) -> Self {
        Self {
            saved,
            ..Self::new(case, case_path)
        }
    }

    /// What the user has entered so far.
    pub fn case(&self) -> &Case {
        &self.case
    }

    /// File it was read from or last saved to.
    pub fn case_path(&self) -> Option<&Path> {
        self.case_path.as_deref()
    }

    /// Grows with every change of the case.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The case differs from what its file holds.
    pub fn is_unsaved(&self) -> bool {
        self.case != self.saved
    }

    /// Notes that `case` is now in the file at `path`, with this SHA-256.
    pub fn mark_saved(&mut self, case: Case, path: PathBuf, sha256: String) {
        self.saved = case;
        self.case_path = Some(path);
        self.file_sha256 = Some(sha256);
    }

    /// SHA-256 of the file as it was last read or saved here.
    pub fn file_sha256(&self) -> Option<&str> {
        self.file_sha256.as_deref()
    }

    /// States where the film is and what it hashes to. Not a step: a file's
    /// place is no work of the user's, and undo must not bring an old one
    /// back.
    pub fn set_film_file(&mut self, path: String, sha256: Option<String>) {
        for case in [&mut self.case, &mut self.saved] {
            case.film.path.clone_from(&path);
            case.film.sha256.clone_from(&sha256);
        }
    }

    /// What the case file holds.
    pub fn saved_case(&self) -> &Case {
        &self.saved
    }

    /// Changes the case as one named step; no step where nothing changes.
    pub fn apply(&mut self, edit: Edit) -> Applied {
        let (label, key) = (edit.label(&self.case), edit.merge_key());
        let mut handle = None;
        let changed = self.edit(&label, key, |case| handle = edit.change(case));
        Applied {
            step: changed.then_some(label),
            handle,
        }
    }

    fn edit(&mut self, label: &str, key: Option<MergeKey>, change: impl FnOnce(&mut Case)) -> bool {
        let before = self.case.clone();
        change(&mut self.case);
        if self.case == before {
            return false;
        }
        self.revision += 1;
        self.history.push(label, key, before);
        self.history.forget_empty(&self.case);
        true
    }

    /// Places what a click with `tool` means, as a drag that has begun: no
    /// step until [`Document::commit_live`].
    pub fn place_live(&mut self, tool: Tool, canal: usize, at: FilmPoint) -> Option<Placed> {
        let mut placed = None;
        self.edit_live(|case| placed = place(case, tool, canal, at));
        if placed.is_none() {
            self.cancel_live();
        }
        placed
    }

    /// Puts a point on the line that `on` names, as a drag that has begun.
    pub fn insert_live(&mut self, on: &Handle, at: FilmPoint) -> Option<Handle> {
        let mut inserted = None;
        self.edit_live(|case| inserted = insert_near(case, on, at));
        if inserted.is_none() {
            self.cancel_live();
        }
        inserted
    }

    /// Moves a point while a drag goes on.
    pub fn move_live(&mut self, handle: &Handle, to: FilmPoint) {
        self.edit_live(|case| move_to(case, handle, to));
    }

    /// Changes the case while a drag goes on; no step until
    /// [`Document::commit_live`].
    fn edit_live(&mut self, change: impl FnOnce(&mut Case)) {
        if self.before_live.is_none() {
            self.before_live = Some(self.case.clone());
        }
        change(&mut self.case);
        self.revision += 1;
    }

    /// Ends a drag: one named step, or none when all is as before.
    pub fn commit_live(&mut self, label: &str) -> bool {
        match self.before_live.take() {
            Some(before) if before != self.case => {
                self.history.push(label, None, before);
                true
            }
            _ => false,
        }
    }

    /// Gives up a drag and puts everything back.
    pub fn cancel_live(&mut self) {
        if let Some(before) = self.before_live.take() {
            self.case = before;
            self.revision += 1;
        }
    }

    /// Name of the step that undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.history.undo_label()
    }

    /// Name of the step that redo would do again.
    pub fn redo_label(&self) -> Option<&str> {
        self.history.redo_label()
    }

    /// Takes the last step back; its name.
    pub fn undo(&mut self) -> Option<String> {
        self.walk(History::undo)
    }

    /// Does the step last taken back again; its name.
    pub fn redo(&mut self) -> Option<String> {
        self.walk(History::redo)
    }

    fn walk(&mut self, way: fn(&mut History, &mut Case) -> Option<String>) -> Option<String> {
        self.cancel_live();
        let film = (self.case.film.path.clone(), self.case.film.sha256.clone());
        let label = way(&mut self.history, &mut self.case)?;
        (self.case.film.path, self.case.film.sha256) = film;
        self.revision += 1;
        Some(label)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::Canal;

    fn document() -> Document {
        let mut case = Case::on_film("film.png");
        case.canals.push(Canal::default());
        Document::new(case, None)
    }

    #[test]
    fn steps_are_named_undone_and_redone_in_order() {
        let mut document = document();
        let start = document.case().clone();
        assert!(document.edit("Name the canal", None, |c| c.canals[0].name = "MB".into()));
        assert!(document.edit("Change the seed", None, |c| c.seed = 2));
        let end = document.case().clone();
        assert_eq!(document.undo_label(), Some("Change the seed"));
        assert_eq!(document.undo().as_deref(), Some("Change the seed"));
        assert_eq!(document.undo().as_deref(), Some("Name the canal"));
        assert_eq!(document.case(), &start);
        assert_eq!(document.undo(), None);
        assert_eq!(document.redo().as_deref(), Some("Name the canal"));
        assert_eq!(document.redo().as_deref(), Some("Change the seed"));
        assert_eq!(document.case(), &end);
    }

    #[test]
    fn an_edit_that_changes_nothing_makes_no_step_and_keeps_what_can_be_redone() {
        let mut document = document();
        document.edit("Change the seed", None, |c| c.seed = 2);
        document.undo();
        assert!(!document.edit("Nothing", None, |c| c.seed = 1));
        assert_eq!(document.undo_label(), None);
        assert_eq!(document.redo_label(), Some("Change the seed"));
    }

    #[test]
    fn a_drag_is_one_step_whatever_its_length_and_none_when_it_returns() {
        let mut document = document();
        for seed in 2..50 {
            document.edit_live(|c| c.seed = seed);
        }
        assert!(document.commit_live("Drag"));
        assert_eq!(document.undo().as_deref(), Some("Drag"));
        assert_eq!(document.case().seed, 1);
        document.edit_live(|c| c.seed = 9);
        document.edit_live(|c| c.seed = 1);
        assert!(!document.commit_live("Drag"));
        document.edit_live(|c| c.seed = 9);
        document.cancel_live();
        assert_eq!(document.case().seed, 1);
    }

    #[test]
    fn typing_merges_into_one_step_until_something_else_happens() {
        let mut document = document();
        document.edit("Set length", Some("length".into()), |c| c.seed = 2);
        document.edit("Set length", Some("length".into()), |c| c.seed = 20);
        document.edit("Other", None, |c| c.canals[0].name = "P".into());
        document.edit("Set length", Some("length".into()), |c| c.seed = 21);
        assert_eq!(document.undo().as_deref(), Some("Set length"));
        assert_eq!(document.case().seed, 20);
        document.undo();
        assert_eq!(document.undo().as_deref(), Some("Set length"));
        assert_eq!(document.case().seed, 1);
    }

    #[test]
    fn saved_means_equal_to_the_file_even_after_undo() {
        let mut document = document();
        document.edit("Change the seed", None, |c| c.seed = 2);
        assert!(document.is_unsaved());
        document.undo();
        assert!(!document.is_unsaved());
    }
}
