//! What is worse, and what is gone, after an edit.

use crate::findings::{Class, Finding, FindingId, Place};
use crate::layout::Layout;
use crate::rails::{BlockId, Plan};

/// How much more current counts as worse: 5 %.
const MORE: f64 = 1.05;

/// Two states of one layout.
pub(super) struct Two<'a> {
    /// Findings before, those with one cause kept apart.
    pub(super) before: &'a [Finding],
    /// Findings after.
    pub(super) after: &'a [Finding],
    /// Plan before.
    pub(super) old: &'a Plan,
    /// Plan after.
    pub(super) new: &'a Plan,
}

impl Two<'_> {
    /// The block before whose track a block after has.
    fn block_before(&self, id: BlockId) -> BlockId {
        let block = self.new.blocks.iter().find(|b| b.id == id);
        let first = block.and_then(|b| b.pieces.first()).map(|&at| &self.new.pieces[at]);
        let there = first
            .and_then(|piece| self.old.block_at(piece.run, (piece.from_mm + piece.to_mm) / 2.0));
        there.map_or(id, |at| self.old.blocks[at].id)
    }

    fn place_before(&self, place: &Place) -> Place {
        match *place {
            Place::Block(id) => Place::Block(self.block_before(id)),
            Place::Cut(_) | Place::Special(_) | Place::Stretch { .. } => *place,
        }
    }

    /// True if a finding after is about what a finding before is about.
    fn same(&self, old: &Finding, new: &Finding) -> bool {
        let places: Vec<Place> = new.places.iter().map(|p| self.place_before(p)).collect();
        old.kind == new.kind
            && old.now == new.now
            && meet(&old.places, &places)
            && meet(&old.drivers, &new.drivers)
            && meet(&old.things, &new.things)
    }

    /// Faults after that are no faults before, or milder ones.
    pub(super) fn worse(&self) -> Vec<&Finding> {
        let faults = self.after.iter().filter(|f| f.class == Class::Fault);
        faults.filter(|new| !self.was_as_bad(new)).collect()
    }

    /// True if each place of a finding had one as bad before.
    fn was_as_bad(&self, new: &Finding) -> bool {
        let peak = |f: &Finding| f.situation().map_or(0.0, |s| s.peak_a());
        let as_bad = |old: &&Finding| {
            self.same(old, new)
                && (old.class, old.verdict) >= (new.class, new.verdict)
                && peak(new) <= peak(old) * MORE + 0.01
        };
        let old: Vec<&Finding> = self.before.iter().filter(as_bad).collect();
        let had = |place: &Place| {
            let before = self.place_before(place);
            old.iter().any(|f| f.places.is_empty() || f.places.contains(&before))
        };
        !old.is_empty() && new.places.iter().all(had)
    }

    /// True if a finding before is gone, or no fault any more if it was one.
    pub(super) fn is_gone(&self, old: &Finding) -> bool {
        !self.after.iter().any(|new| new.class >= old.class && self.same(old, new))
    }

    /// Rules and notes that are new after.
    pub(super) fn makes(&self) -> Vec<&Finding> {
        let new = self.after.iter().filter(|new| {
            !self.before.iter().any(|old| self.same(old, new) && old.class >= new.class)
        });
        new.collect()
    }
}

/// True if two lists have something in common, or one of them is empty.
fn meet<T: PartialEq>(a: &[T], b: &[T]) -> bool {
    a.is_empty() || b.is_empty() || a.iter().any(|one| b.contains(one))
}

/// What a layout says that is worst, to tell two states apart.
pub(super) fn faults(findings: &[Finding]) -> Vec<FindingId> {
    findings.iter().filter(|f| f.class == Class::Fault).map(Finding::id).collect()
}

/// Lineups of a layout as layouts that are set so, no more than are looked at.
pub(super) fn lineups(layout: &Layout) -> impl Iterator<Item = Layout> + '_ {
    let all = layout.lineups.values().filter_map(|lineup| lineup.applied(layout).ok());
    all.take(super::MOST_LINEUPS)
}
