//! `one-rail-cut`: only one rail is cut, so the two blocks keep the other in common.

use super::shared::at_cut;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Text, Verdict, View, Words};
use crate::job::Job;
use crate::layout::Rails;

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
    let (one, other) = (w.block(0), w.block(1));
    if w.made_for_a_common_rail() {
        return Text {
            says: format!("{}: only one rail is cut, as its drivers need; keep it so", w.gap()),
            why: format!(
                "The other rail is common to {one} and {other}. The drivers of both are half-bridges on a split supply, made \
                 for a common rail."
            ),
            more: String::new(),
            advice: vec!["Nothing to do; keep the common rail whole.".into()],
            cautions: Vec::new(),
        };
    }
    Text {
        says: format!("{}: only one rail is cut; cut the other too", w.gap()),
        why: format!(
            "The other rail is common to {one} and {other}. Blocks whose directions are set independently need both rails \
             cut, unless their drivers are made for a common rail."
        ),
        more: String::new(),
        advice: vec!["Cut the other rail too.".into()],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    near.finding.cuts().into_iter().map(|cut| Job::CutBoth(cut).into()).collect()
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
            with,
            twin,
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: only one rail is cut; cut the other too",
        }]
    }
}
