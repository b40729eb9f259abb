//! What the parts of the case's page work on.

use super::command::Command;
use super::edit::{Applied, Edit};
use super::preferences::Preferences;
use super::session::Session;
use super::workspace::Workspace;

/// Document and film, passing state, habits, and the orders given in this
/// frame.
pub struct Desk<'a> {
    pub workspace: &'a mut Workspace,
    pub session: &'a mut Session,
    pub preferences: &'a mut Preferences,
    pub commands: &'a mut Vec<Command>,
}

impl Desk<'_> {
    /// Changes the case as one named step.
    pub fn apply(&mut self, edit: Edit) -> Applied {
        self.workspace.document.apply(edit)
    }
}
