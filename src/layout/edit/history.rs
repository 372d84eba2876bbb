//! Undo and redo without limit.

use super::apply::applied;
use super::value::{Edit, Refused};
use crate::layout::model::{EntityId, Layout};

/// What was done to a layout and taken back, and whether the layout differs from what was saved.
///
/// All edits to one layout must go through its one history: an inverse fits only the state that it was made from.
#[derive(Debug, Clone, Default)]
pub struct History {
    undo: Vec<Step>,
    redo: Vec<Step>,
    /// Number of the present state; every new state gets a number of its own.
    state: u64,
    states: u64,
    saved: u64,
    /// What the last edit coalesces with.
    key: Option<String>,
}

#[derive(Debug, Clone)]
struct Step {
    edit: Edit,
    /// The state to which `edit` leads.
    state: u64,
}

impl History {
    /// Applies an edit and remembers its inverse. Returns the identities of what it made. An edit that changes
    /// nothing leaves no step.
    pub fn do_edit(&mut self, layout: &mut Layout, edit: Edit) -> Result<Vec<EntityId>, Refused> {
        let (made, _) = self.step(layout, edit, false)?;
        self.key = None;
        Ok(made)
    }

    /// Applies an edit as part of a drag: edits that follow each other under one key are undone as one.
    pub fn do_coalesced(
        &mut self,
        layout: &mut Layout,
        edit: Edit,
        key: &str,
    ) -> Result<Vec<EntityId>, Refused> {
        let again = self.key.as_deref() == Some(key);
        let (made, stepped) = self.step(layout, edit, again)?;
        if !again {
            // A drag that has not moved anything yet has no step of its own to coalesce with.
            self.key = stepped.then(|| key.to_owned());
        }
        Ok(made)
    }

    /// Ends a drag: the next edit under the same key is a step of its own.
    pub fn end_coalescing(&mut self) {
        self.key = None;
    }

    fn step(
        &mut self,
        layout: &mut Layout,
        edit: Edit,
        coalesce: bool,
    ) -> Result<(Vec<EntityId>, bool), Refused> {
        let (inverse, made) = applied(layout, edit)?;
        let changes = match &inverse {
            Edit::Restore(restore) => !restore.is_empty(layout),
            _ => true,
        };
        if !changes {
            return Ok((made, false));
        }
        self.redo.clear();
        let inverse = match (coalesce.then(|| self.undo.last_mut()).flatten(), inverse) {
            (Some(Step { edit: Edit::Restore(older), .. }), Edit::Restore(newer)) => {
                *older = newer.then(std::mem::take(older));
                None
            }
            (_, inverse) => Some(inverse),
        };
        if let Some(edit) = inverse {
            self.undo.push(Step { edit, state: self.state });
        }
        self.states += 1;
        self.state = self.states;
        Ok((made, true))
    }

    /// Takes the last step back. Returns whether there was one.
    pub fn undo(&mut self, layout: &mut Layout) -> Result<bool, Refused> {
        self.key = None;
        let (from, to) = (&mut self.undo, &mut self.redo);
        shift(layout, from, to, &mut self.state)
    }

    /// Does the step again that was last taken back. Returns whether there was one.
    pub fn redo(&mut self, layout: &mut Layout) -> Result<bool, Refused> {
        self.key = None;
        let (from, to) = (&mut self.redo, &mut self.undo);
        shift(layout, from, to, &mut self.state)
    }

    /// Whether there is a step to take back.
    pub fn can_undo(&self) -> bool {
        !self.undo.is_empty()
    }

    /// How many steps there are to take back.
    pub fn undo_steps(&self) -> usize {
        self.undo.len()
    }

    /// Whether there is a step to do again.
    pub fn can_redo(&self) -> bool {
        !self.redo.is_empty()
    }

    /// The layout has just been saved.
    pub fn mark_saved(&mut self) {
        self.saved = self.state;
        self.key = None;
    }

    /// What the history began with was never saved.
    pub fn mark_unsaved(&mut self) {
        self.saved = u64::MAX;
    }

    /// Whether the layout differs from what was last saved (or from what the history began with).
    pub fn is_changed(&self) -> bool {
        self.state != self.saved
    }
}

fn shift(
    layout: &mut Layout,
    from: &mut Vec<Step>,
    to: &mut Vec<Step>,
    state: &mut u64,
) -> Result<bool, Refused> {
    let Some(step) = from.last().cloned() else { return Ok(false) };
    let (edit, _) = applied(layout, step.edit)?;
    from.pop();
    to.push(Step { edit, state: *state });
    *state = step.state;
    Ok(true)
}
