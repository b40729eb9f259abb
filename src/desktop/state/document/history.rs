//! Undo and redo as labelled snapshots, without limit: a case is a few
//! kilobytes.

use crate::case::Case;

/// Edits with the same key, one after the other, are one step (typing a
/// number, nudging a handle).
pub type MergeKey = String;

#[derive(Default)]
pub struct History {
    past: Vec<Step>,
    future: Vec<Step>,
}

struct Step {
    label: String,
    key: Option<MergeKey>,
    /// The case on the other side of the step.
    other: Case,
}

impl History {
    /// Adds a step that led away from `before`.
    pub fn push(&mut self, label: &str, key: Option<MergeKey>, before: Case) {
        let joins = key.is_some()
            && self.future.is_empty()
            && self.past.last().is_some_and(|last| last.key == key);
        self.future.clear();
        if !joins {
            self.past.push(Step {
                label: label.to_owned(),
                key,
                other: before,
            });
        }
    }

    /// Forgets the last step if it has come back to where it began, as typing
    /// that was given up does.
    pub fn forget_empty(&mut self, now: &Case) {
        self.past.pop_if(|last| &last.other == now);
    }

    pub fn undo_label(&self) -> Option<&str> {
        self.past.last().map(|step| step.label.as_str())
    }

    pub fn redo_label(&self) -> Option<&str> {
        self.future.last().map(|step| step.label.as_str())
    }

    pub fn undo(&mut self, case: &mut Case) -> Option<String> {
        let step = self.past.pop()?;
        Some(exchange(step, case, &mut self.future))
    }

    pub fn redo(&mut self, case: &mut Case) -> Option<String> {
        let step = self.future.pop()?;
        Some(exchange(step, case, &mut self.past))
    }
}

/// Puts the case on the step's other side and keeps the step for the way
/// back.
fn exchange(mut step: Step, case: &mut Case, back: &mut Vec<Step>) -> String {
    std::mem::swap(&mut step.other, case);
    // A step that was walked through must not grow by later typing.
    step.key = None;
    let label = step.label.clone();
    back.push(step);
    label
}
