//! Rules for decisions: texts of a length that can be shown, and a lineup that is there.

use super::found::{Found, nearest};
use crate::layout::model::{Decision, Layout};

pub(super) fn decision(layout: &Layout, decision: &Decision, found: &mut Found) {
    found.of(decision.id);
    found.number(decision.id);
    let words = [
        ("finding", &decision.finding),
        ("said", &decision.said),
        ("ground", &decision.ground),
        ("decision", &decision.decision),
        ("owner", &decision.owner),
        ("date", &decision.date),
    ];
    for (field, text) in words {
        found.name(field, text);
    }
    if let Some(lineup) = decision.lineup.filter(|id| !layout.lineups.contains_key(id)) {
        let near = nearest(layout.lineups.keys(), lineup.0);
        found.missing("lineup", lineup, near);
    }
}
