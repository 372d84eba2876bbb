//! `one-rail-cut`: only one rail is cut, so the two blocks keep the other in common.

use super::shared::at_cut;
use super::{Class, Cure, Evident, Found, Kind, Text, Verdict, View, Words};
use crate::layout::{Layout, Rails};

/// Nothing beside the places of the finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence;

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for (&cut, known) in &view.known {
        let Some(drawn) = view.layout.cuts.get(&cut) else { continue };
        let at = known.around.at;
        let before = view.plan.pieces[at.before].nets;
        let after = view.plan.pieces[at.after].nets;
        let common = (0..2).any(|side| before[side] == after[side]);
        if drawn.rails == Rails::Both || !common || at.block_before == at.block_after {
            continue;
        }
        found.push(at_cut(view, cut, Kind::OneRailCut, Class::Note, Verdict::Caution, Evidence));
    }
    found
}

pub fn words(_: &Evidence, w: &Words) -> Text {
    let common = format!("The other rail is common to {} and {}.", w.block(0), w.block(1));
    let (made, advice) = if w.made_for_a_common_rail() {
        (
            "The drivers of both are half-bridges on a split supply, made for a common rail.",
            "Nothing to do; keep the common rail whole.",
        )
    } else {
        (
            "Independent directions need both rails cut, unless the drivers are made for a common rail.",
            "Cut the other rail too.",
        )
    };
    Text {
        says: format!("{}: only one rail is cut", w.gap()),
        why: format!("{common} {made}"),
        more: String::new(),
        advice: vec![advice.into()],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Cut, Edit, Rails};

    pub fn pairs() -> Vec<Pair> {
        let with = yard(r#"(id: "c1", run: "r1", at_mm: 1000, rails: Right)"#);
        let both = Cut { rails: Rails::Both, ..with.cuts[&C1].clone() };
        let twin = edited(&with, Edit::Replace(both.into()));
        vec![Pair {
            with: with,
            twin: twin,
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: only one rail is cut",
        }]
    }
}
