//! What the parts of the case's page work on.

use super::command::Command;
use super::edit::{Applied, Edit};
use super::preferences::Preferences;
use super::session::Session;
use super::workspace::Workspace;
use crate::case::edit::file_object_index;

/// Document and film, passing state, habits, and the orders given in this
/// frame.
pub struct Desk<'a> {
    pub workspace: &'a mut Workspace,
    pub session: &'a mut Session,
    pub preferences: &'a mut Preferences,
    pub commands: &'a mut Vec<Command>,
}

impl Desk<'_> {
    /// The tip is known, with its stop or without, and the set length is what is
    /// missing.
    pub fn awaits_length(&self) -> bool {
        let case = self.workspace.document.case();
        let canal = self.session.canal;
        let Some(content) = case.canals.get(canal) else {
            return false;
        };
        let object = file_object_index(case, canal).map(|object| &case.scale.objects[object]);
        let file = content.file.as_ref();
        let has_tip = file.is_some_and(|file| file.tip_px.is_some());
        let has_length = file.is_some_and(|file| file.set_length_mm.is_some())
            || object.is_some_and(|object| object.true_length_mm.is_some());
        let is_begun = object.is_some_and(|object| object.points_px.len() < 2);
        has_tip && !has_length && !is_begun
    }

    /// Changes the case as one named step.
    pub fn apply(&mut self, edit: Edit) -> Applied {
        self.workspace.document.apply(edit)
    }
}
