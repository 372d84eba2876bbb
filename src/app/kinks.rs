//! Moves of track, and what they say when they leave a kink at special work.

use super::{App, names};
use crate::layout::edit::Edit;
use crate::layout::kinks::{Kink, kinks};

/// A kink that is smaller than this is left to the eye, degrees: no gauge of the trade is so fine (judgement).
const LEAST_DEG: f64 = 1.0;

impl App {
    /// Moves track; says so where a way over special work kinks now and did not before.
    pub(super) fn move_track(&mut self, what: &str, edit: Edit) {
        let before = kinks(self.doc.layout());
        if self.edit(what, edit).is_none() {
            return;
        }
        let was = |kink: &Kink| {
            let same = |old: &&Kink| (old.from, old.to) == (kink.from, kink.to);
            before.iter().find(same).map_or(0.0, |old| old.turn_deg)
        };
        let now = kinks(self.doc.layout()).into_iter();
        let new: Vec<Kink> = now.filter(|kink| kink.turn_deg > was(kink) + LEAST_DEG).collect();
        let Some(worst) = new.iter().max_by(|a, b| a.turn_deg.total_cmp(&b.turn_deg)) else {
            return;
        };
        let name = names::entity_name(self.doc.layout(), worst.special.into());
        let more = match new.len() {
            1 => String::new(),
            2 => " Another way kinks as well.".to_owned(),
            n => format!(" {} other ways kink as well.", n - 1),
        };
        self.tell(format!(
            "The track kinks by {:.0}° at {name}, where runs {} and {} meet: wheels climb the rail there.{more} Undo, or \
             lay the run anew so that it goes on smoothly.",
            worst.turn_deg, worst.from.run, worst.to.run
        ));
    }
}
