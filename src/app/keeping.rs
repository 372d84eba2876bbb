//! What outlives the window: settings, and work that is not saved.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::path::Path;

use eframe::egui;

use super::camera::{Camera, MAX_SCALE, MIN_SCALE};
use super::recovery::{Recovery, Work};
use super::settings::Remembered;
use super::{App, files};

impl App {
    /// Takes in what the user's folder remembers, opens a file if one is named, and offers what a crash left behind.
    pub(super) fn live_in(&mut self, folder: &Path, file: Option<&Path>, threaded: bool) {
        let (remembered, settings, wrong) = Remembered::open(&folder.join("settings.ron"));
        self.tools.snap = settings.snap;
        self.settings = settings;
        self.remembered = Some(remembered);
        if let Some(path) = file {
            self.open_path(path);
        }
        if let Some(why) = wrong {
            self.tell_bad(why);
        }
        let unsaved = folder.join("unsaved");
        match Recovery::new(&unsaved, threaded) {
            Ok(recovery) => {
                let found = recovery.found();
                self.recovery = Some(recovery);
                if !found.is_empty() {
                    self.files.offer(found);
                }
            }
            Err(error) => self.tell_bad(format!(
                "Unsaved work cannot be kept in {}: {error}. Save often.",
                unsaved.display()
            )),
        }
    }

    /// Writes the settings when they have changed.
    pub(super) fn remember(&mut self) {
        self.settings.snap = self.tools.snap;
        let Some(remembered) = &mut self.remembered else { return };
        if let Err(error) = remembered.write(&self.settings) {
            self.tell_bad(format!(
                "Settings, presets and recent layouts cannot be remembered: {error}."
            ));
        }
    }

    /// Remembers from where the layout on the screen is looked at, if it lies in a file.
    pub(super) fn remember_view(&mut self) {
        if let Some(path) = &self.doc.path {
            self.settings.seen(path, self.camera.centre, self.camera.scale);
        }
    }

    /// Looks at the layout of a file as it was looked at last; the whole of it, if that is not known.
    pub(super) fn look_as_before(&mut self, path: &Path) {
        let Some(view) = self.settings.view(path) else { return };
        let scale = view.scale.clamp(MIN_SCALE, MAX_SCALE);
        self.look_wanted = Some((Camera { centre: view.centre_mm, scale, ..self.camera }, 3));
    }

    /// Sees to the work that is not saved, with what keeps it.
    pub(super) fn keep<T>(
        &mut self,
        keep: impl FnOnce(&mut Recovery, &Work<'_>) -> T,
    ) -> Option<T> {
        let doc = &self.doc;
        let work = Work {
            layout: doc.layout(),
            changed: doc.is_changed(),
            revision: doc.revision(),
            title: &doc.title(),
            path: doc.path.as_deref(),
        };
        let recovery = self.recovery.as_mut()?;
        let kept = keep(recovery, &work);
        if let Some(why) = recovery.wrong() {
            self.tell_bad(format!("Unsaved work cannot be kept: {why}. Save often."));
        }
        Some(kept)
    }

    /// Does some work; should it break down, what is not saved is kept before it goes on breaking down.
    pub fn guarded(&mut self, work: impl FnOnce(&mut Self)) {
        if let Err(panic) = catch_unwind(AssertUnwindSafe(|| work(self))) {
            self.keep(Recovery::rescue);
            resume_unwind(panic);
        }
    }

    /// Of a window that is hidden no frame is shown. What is not saved is kept all the same, and asked about if the window
    /// is closed from outside.
    pub fn while_hidden(&mut self, ctx: &egui::Context) {
        self.keep(Recovery::hurry);
        if files::guard_close(ctx, self) {
            ctx.send_viewport_cmd(egui::ViewportCommand::Minimized(false));
            ctx.send_viewport_cmd(egui::ViewportCommand::Focus);
        }
    }

    /// The window has closed. If nobody was asked about unsaved changes (the desktop went away), they are kept as after a
    /// crash.
    pub fn closed(&mut self) {
        self.remember_view();
        self.remember();
        if files::would_lose(self) {
            self.keep(Recovery::rescue);
        } else if let Some(recovery) = &mut self.recovery {
            recovery.close();
        }
    }
}
