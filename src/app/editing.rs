//! Edits, selection and notices: what every tool and panel asks of the window.

use eframe::egui::Id;

use super::called::Called;
use super::derived::Derived;
use super::findings::Done;
use super::{App, Tab, names};
use crate::layout::edit::Edit;
use crate::layout::{EntityId, place, shown};

/// Something to tell the user. What failed stays until it is dismissed; what was told of a step goes with the next.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Notice {
    /// The words.
    pub(super) text: String,
    /// Whether something failed.
    pub(super) bad: bool,
    /// The revision of the layout that it is about.
    pub(super) revision: u64,
}

impl App {
    /// Does an edit, or tells why it cannot be done. Returns what it made.
    pub(super) fn edit(&mut self, what: &str, edit: Edit) -> Option<Vec<EntityId>> {
        self.edit_field(what, edit, None)
    }

    /// Does an edit of one field; edits of the same field in one gesture are undone as one.
    pub(super) fn edit_field(
        &mut self,
        what: &str,
        edit: Edit,
        field: Option<Id>,
    ) -> Option<Vec<EntityId>> {
        let steps = self.doc.steps();
        match self.doc.edit(what, edit, field) {
            Ok(made) => {
                self.listed.note(Done::Edit(steps == self.doc.steps()));
                self.forget_what_is_past();
                self.refresh();
                Some(made)
            }
            Err(refused) => {
                self.tell_bad(format!("Could not {what}: {refused}"));
                None
            }
        }
    }

    /// What was only said of an earlier state of the layout is not said any more; what failed stays to be read.
    pub(super) fn forget_what_is_past(&mut self) {
        let now = self.doc.revision();
        self.notices.retain(|notice| notice.bad || notice.revision == now);
    }

    pub(super) fn undo(&mut self) {
        match self.doc.undo() {
            Ok(true) => self.listed.note(Done::Undo),
            Ok(false) => {}
            Err(refused) => self.tell_bad(format!("Could not undo: {refused}")),
        }
        self.forget_what_is_past();
        self.refresh();
    }

    pub(super) fn redo(&mut self) {
        match self.doc.redo() {
            Ok(true) => self.listed.note(Done::Redo),
            Ok(false) => {}
            Err(refused) => self.tell_bad(format!("Could not redo: {refused}")),
        }
        self.forget_what_is_past();
        self.refresh();
    }

    pub(super) fn delete_selected(&mut self) {
        if !self.selection.is_empty() {
            let ids = std::mem::take(&mut self.selection);
            match place::deletion(self.doc.layout(), &ids) {
                Ok(edit) => drop(self.edit("delete", edit)),
                Err(refused) => self.tell_bad(format!("Could not delete: {refused}")),
            }
        }
    }

    pub(super) fn select(&mut self, id: EntityId) {
        self.selection = vec![id];
        self.cell = None;
        self.tab = Tab::Selected;
    }

    pub(super) fn tell(&mut self, text: impl Into<String>) {
        self.notice(text.into(), false);
    }

    pub(super) fn tell_bad(&mut self, text: impl Into<String>) {
        self.notice(text.into(), true);
    }

    pub(super) fn notice(&mut self, text: String, bad: bool) {
        // Paths and reasons repeat what is in files; the lines of the text are ours.
        let text = text.lines().map(shown).collect::<Vec<_>>().join("\n");
        self.notices.retain(|n| n.text != text);
        self.notices.push(Notice { text, bad, revision: self.doc.revision() });
        // An old notice that nobody dismissed gives way; five are all that one reads.
        if self.notices.len() > 5 {
            self.notices.remove(0);
        }
    }

    /// Brings everything that depends on the layout up to date.
    pub(super) fn refresh(&mut self) {
        if self.derived_about == self.doc.revision() {
            return;
        }
        self.derived_about = self.doc.revision();
        let layout = self.doc.layout();
        self.derived = Derived::after(layout, &self.derived);
        self.called = Called::of(layout, &self.derived);
        self.selection.retain(|id| names::exists(layout, *id));
        self.tools.forget_what_is_gone(layout);
    }

    pub(super) fn go_to(&mut self, id: EntityId) {
        if let Some(place) = self.derived.place(self.doc.layout(), id) {
            self.camera.centre = place;
            // Near enough to see the two rails and the gap between them.
            if !matches!(id, EntityId::Picture(_)) {
                self.camera.scale = self.camera.scale.max(0.6);
            }
        }
    }
}
