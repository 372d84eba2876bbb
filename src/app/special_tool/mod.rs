//! The tools for special work: place it ([`state`], [`form`], [`formation`]), throw it ([`throw`]), bond rails ([`bond`]).
//!
//! Here is what the tool aims at under the pointer, and how what it places is done.

mod bond;
mod form;
mod formation;
mod state;
mod throw;

use eframe::egui::{Id, Pos2};

use super::App;
use super::canvas::{end_at_pointer, on_grid, run_at, runs_under};
use crate::layout::edit::Refused;
use crate::layout::laying::free_ends;
use crate::layout::place::Placed;
use crate::layout::{EntityId, TrackEnd};

pub use bond::{BondTool, bond_ui};
pub use form::{FROG_HELP, end_words, frog_choices, special_ui};
pub use state::{Kind, SpecialTool, Target};
pub use throw::throw_ui;

impl App {
    /// What the tool for special work aims at under the pointer.
    pub fn special_target(&self, at: Pos2) -> Option<Target> {
        let tool = &self.tools.special;
        let layout = self.doc.layout();
        let free = free_ends(layout);
        let end = end_at_pointer(self, at);
        // Special work that is there is selected, not built over.
        let held = |end: &TrackEnd| layout.specials.values().any(|s| s.work.ends().contains(end));
        if end.as_ref().is_some_and(held) {
            return None;
        }
        if tool.kind.is_bridge() || tool.kind == Kind::Buffer {
            if let Some(end) = end.filter(|end| free.contains(end)) {
                return Some(Target::End(end));
            }
            let ground = on_grid(self, self.camera.to_world(self.canvas, at));
            return Some(Target::Ground(ground.0, ground.1));
        }
        if let Some(end) = end
            && tool.kind.crossing().is_none()
        {
            return Some(Target::End(end));
        }
        let (run, at_mm) = run_at(self, at)?;
        let other = runs_under(self, at)
            .into_iter()
            .find(|id| *id != run)
            .filter(|_| tool.kind.crossing().is_some());
        Some(Target::On(run, at_mm, other))
    }

    /// What a click there would come to.
    pub fn special_wished(&self, at: Pos2) -> Option<Result<Placed, Refused>> {
        let target = self.special_target(at)?;
        Some(self.tools.special.placed(self.doc.layout(), target))
    }

    /// Places special work.
    pub fn place_special(&mut self, target: Target) {
        let what = format!("place a {}", self.tools.special.kind.word());
        let placed = self.tools.special.placed(self.doc.layout(), target);
        self.do_placed(&what, placed);
    }

    /// Does what a placing comes to; tells what was assumed, and selects what was made.
    pub fn do_placed(
        &mut self,
        what: &str,
        placed: Result<Placed, Refused>,
    ) -> Option<Vec<EntityId>> {
        self.do_placed_field(what, placed, None)
    }

    /// The same of one field: placings of the same field in one gesture are undone as one.
    pub fn do_placed_field(
        &mut self,
        what: &str,
        placed: Result<Placed, Refused>,
        field: Option<Id>,
    ) -> Option<Vec<EntityId>> {
        let placed = match placed {
            Ok(placed) => placed,
            Err(refused) => {
                self.tell_bad(format!("Could not {what}: {refused}"));
                return None;
            }
        };
        let made = self.edit_field(what, placed.edit, field)?;
        if let Some(&id) = placed.specials.first() {
            self.selection = vec![id.into()];
        }
        for words in placed.assumed.into_iter().chain(placed.needs) {
            self.tell(words);
        }
        Some(made)
    }
}
