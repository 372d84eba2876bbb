//! The document in the window: the layout, what can be undone, and whether it is saved.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use eframe::egui::Id;

use crate::layout::edit::{Edit, Refused};
use crate::layout::{EntityId, History, Layout, shown};

/// The layout that is open, with its history.
#[derive(Debug, Default)]
pub struct Document {
    layout: Layout,
    history: History,
    /// What the step at each depth of the history did, in the trade's words: "lay a run".
    what: BTreeMap<usize, String>,
    revision: u64,
    gesture: u64,
    /// Where it was opened from or last saved to.
    pub path: Option<PathBuf>,
    /// That file when it was read or written last.
    seen: Option<Stamp>,
    /// Whether the file that it came from had comments, which a save would not keep.
    pub had_comments: bool,
}

/// What tells whether a file is still the one that was seen: its length and when it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp(u64, Option<SystemTime>);

impl Stamp {
    /// That of a file now; `None` if there is no such file.
    pub fn of(path: &Path) -> Option<Self> {
        let about = std::fs::metadata(path).ok()?;
        Some(Self(about.len(), about.modified().ok()))
    }
}

impl Document {
    /// A document of a layout that is saved as it is.
    pub fn new(layout: Layout) -> Self {
        Self { layout, revision: 1, ..Self::default() }
    }

    /// It lies in this file, which was as its stamp tells before it was read.
    pub fn lying_in(self, path: PathBuf, seen: Option<Stamp>, had_comments: bool) -> Self {
        Self { path: Some(path), seen, had_comments, ..self }
    }

    /// The layout is in no file as it is.
    pub fn unsaved(mut self) -> Self {
        self.history.mark_unsaved();
        self
    }

    /// Keeps revisions growing over documents, so that an answer about an older one is never taken for this one's.
    pub fn after(mut self, older: &Document) -> Self {
        self.revision = older.revision + 1;
        self
    }

    /// The layout. It is changed by [`Document::edit`] only.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Goes up with every change.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Does an edit and remembers how to take it back. Returns what it made. On refusal nothing has changed.
    ///
    /// Edits with the same `field` within one gesture (a drag, typing into one field) are undone as one.
    pub fn edit(
        &mut self,
        what: &str,
        edit: Edit,
        field: Option<Id>,
    ) -> Result<Vec<EntityId>, Refused> {
        let made = match field {
            Some(field) => {
                let key = format!("{}.{}", field.value(), self.gesture);
                self.history.do_coalesced(&mut self.layout, edit, &key)?
            }
            None => self.history.do_edit(&mut self.layout, edit)?,
        };
        self.revision += 1;
        self.what.insert(self.history.undo_steps(), what.to_owned());
        Ok(made)
    }

    /// A new gesture begins: later edits are steps of their own.
    pub fn new_gesture(&mut self) {
        self.gesture += 1;
    }

    /// What the next undo takes back.
    pub fn undo_what(&self) -> Option<&str> {
        let words = self.what.get(&self.history.undo_steps()).map_or("", String::as_str);
        self.history.can_undo().then_some(words)
    }

    /// What the next redo does again.
    pub fn redo_what(&self) -> Option<&str> {
        let words = self.what.get(&(self.history.undo_steps() + 1)).map_or("", String::as_str);
        self.history.can_redo().then_some(words)
    }

    /// How many steps can be taken back.
    pub fn steps(&self) -> usize {
        self.history.undo_steps()
    }

    /// Takes the last step back. Returns whether there was one.
    pub fn undo(&mut self) -> Result<bool, Refused> {
        if !self.history.can_undo() {
            return Ok(false);
        }
        self.revision += 1;
        self.history.undo(&mut self.layout)
    }

    /// Does the last step again that was taken back. Returns whether there was one.
    pub fn redo(&mut self) -> Result<bool, Refused> {
        if !self.history.can_redo() {
            return Ok(false);
        }
        self.revision += 1;
        self.history.redo(&mut self.layout)
    }

    /// Whether the layout differs from what is in its file.
    pub fn is_changed(&self) -> bool {
        self.history.is_changed()
    }

    /// The document is now in this file as it is.
    pub fn saved_to(&mut self, path: PathBuf) {
        self.history.mark_saved();
        self.seen = Stamp::of(&path);
        self.path = Some(path);
        self.had_comments = false;
    }

    /// Whether something else has written its file since it was read or written here.
    pub fn is_file_changed(&self) -> bool {
        let now = self.path.as_deref().and_then(Stamp::of);
        now.is_some() && now != self.seen
    }

    /// A name for the title: the layout's, or the file's, as it is shown.
    pub fn title(&self) -> String {
        if !self.layout.name.trim().is_empty() {
            return shown(&self.layout.name).into_owned();
        }
        match self.path.as_deref().and_then(|p| p.file_stem()) {
            Some(stem) => shown(&stem.to_string_lossy()).into_owned(),
            None => "New layout".to_owned(),
        }
    }
}
