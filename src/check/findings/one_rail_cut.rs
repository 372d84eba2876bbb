//! `one-rail-cut`: only one rail is cut, so the two blocks keep the other in common.

use super::super::{Class, Context, Evidence, Finding, Kind, Verdict};
use super::at_cut;
use crate::layout::Rails;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for (&cut, known) in &context.known {
        let Some(drawn) = context.layout.cuts.get(&cut) else { continue };
        let at = known.around.at;
        let before = context.plan.pieces[at.before].nets;
        let after = context.plan.pieces[at.after].nets;
        let common = (0..2).any(|side| before[side] == after[side]);
        if drawn.rails == Rails::Both || !common || at.block_before == at.block_after {
            continue;
        }
        let evidence = Evidence::Place { run: drawn.run, at_mm: drawn.at_mm, length_mm: 0.0 };
        found.push(at_cut(context, cut, Kind::OneRailCut, Class::Note, Verdict::Caution, evidence));
    }
}
