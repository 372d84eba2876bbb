//! Divides a run in two.

use super::change::{Change, not_there};
use super::value::Refused;
use crate::layout::model::{Joiners, Joint, JointId, Run, RunEnd, RunId, TrackEnd};
use crate::layout::words::mm;
use crate::track::curve as geometry;

impl Change<'_> {
    pub(super) fn split(&mut self, id: RunId, at_mm: f64) -> Result<(), Refused> {
        let run = self.layout.runs.get(&id).cloned().ok_or_else(|| not_there(id))?;
        let length = geometry::length_mm(self.layout, &run);
        if !(at_mm > 0.0 && at_mm < length) {
            return Err(Refused(format!(
                "Run {id} cannot be split at {}: it is {} long. Choose a place between its ends.",
                mm(at_mm),
                mm(length)
            )));
        }
        for cut in self.layout.cuts.values().filter(|cut| cut.run == id) {
            let other = cut.at_mm + cut.stagger_mm;
            if (cut.at_mm > at_mm) != (other > at_mm) {
                return Err(Refused(format!(
                    "Run {id} cannot be split at {}: the staggered cut {} reaches over that place. \
                     Split the run outside the cut.",
                    mm(at_mm),
                    cut.id
                )));
            }
        }
        for special in self.layout.specials.values() {
            let inside = special.work.bridge() == Some(id)
                || special.work.ends().into_iter().filter(|e| e.run == id).any(|e| match e.end {
                    RunEnd::Start => at_mm <= special.work.reach_mm(),
                    RunEnd::End => at_mm >= length - special.work.reach_mm(),
                });
            if inside {
                return Err(Refused(format!(
                    "Run {id} cannot be split at {}: that place is inside the {} {}. \
                     Split the run beyond it.",
                    mm(at_mm),
                    special.work.word(),
                    special.id
                )));
            }
        }
        let (first, second, (x_mm, y_mm)) = geometry::divided(self.layout, &run, at_mm);
        let joint = JointId(self.fresh()?);
        let rest = RunId(self.fresh()?);
        self.put(Joint { id: joint, x_mm, y_mm, joiners: Joiners::default() });
        let length_mm = run.length_mm.map(|_| at_mm);
        self.put(Run { to: joint, shape: first, length_mm, ..run.clone() });
        let length_mm = run.length_mm.map(|whole| whole - at_mm);
        self.put(Run { id: rest, from: joint, shape: second, length_mm, ..run });

        // Special work at the far end has the second part there now.
        let far = TrackEnd { run: id, end: RunEnd::End };
        self.give_ends(|end| (end == far).then_some(TrackEnd { run: rest, ..far }));

        let long = |change: &Self, id: RunId| {
            change.layout.runs.get(&id).map_or(0.0, |run| geometry::length_mm(change.layout, run))
        };
        // The drawn lengths of the parts may differ from the distances in the last digits.
        let (first_mm, rest_mm) = (long(self, id), long(self, rest));
        self.anchor_again(|run, place_mm| {
            if run != id {
                None
            } else if place_mm > at_mm {
                let along = if place_mm >= length { rest_mm } else { place_mm - at_mm };
                Some((rest, along.min(rest_mm)))
            } else {
                Some((id, if place_mm == at_mm { first_mm } else { place_mm.min(first_mm) }))
            }
        });
        Ok(())
    }
}
