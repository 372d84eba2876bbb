//! `one-rail-cut`: only one rail is cut, so the two blocks keep the other in common.

use super::at_cut;
use super::{Class, Evidence, Finding, Kind, Verdict, View};
use crate::layout::Rails;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for (&cut, known) in &view.known {
        let Some(drawn) = view.layout.cuts.get(&cut) else { continue };
        let at = known.around.at;
        let before = view.plan.pieces[at.before].nets;
        let after = view.plan.pieces[at.after].nets;
        let common = (0..2).any(|side| before[side] == after[side]);
        if drawn.rails == Rails::Both || !common || at.block_before == at.block_after {
            continue;
        }
        let evidence = Evidence::Place { run: drawn.run, at_mm: drawn.at_mm, length_mm: 0.0 };
        found.push(at_cut(view, cut, Kind::OneRailCut, Class::Note, Verdict::Caution, evidence));
    }
}
