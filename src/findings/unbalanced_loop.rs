//! `unbalanced-loop`: track that leads back onto itself with its rails exchanged, with room for a reversing section.

use super::shared::loops;
use super::words::{and, capital, spaced};
use super::{BlockId, Caution, Cure, Found, Near, Reversal, Text, Unfit, View, Words};
use crate::layout::SpecialId;

/// Loops with room for reversing sections.
pub use super::LoopSections as Evidence;

/// Sets of blocks that are named one by one.
const MOST_SETS: usize = 6;
/// Loops whose ways are described.
const MOST_ROUNDS: usize = 3;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::with_room(view)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    if let Some(table) = e.turntable {
        return turntable(e, w, table);
    }
    let (loops, exchanged) = match e.rounds.len() {
        1 => ("a loop".to_owned(), "a loop comes back with its rails exchanged".to_owned()),
        n => (format!("{n} loops"), format!("{n} loops come back with their rails exchanged")),
    };
    let says = match (&e.reversed[..], &e.sets[..]) {
        ([], []) => format!(
            "{}: {exchanged} and no block on it can be a reversing section; move the gaps apart",
            some_blocks(w)
        ),
        ([], sets) => format!(
            "{}: {exchanged} and nothing reverses it; feed it through a reversing switch",
            one_of(w, sets)
        ),
        (reversed, _) => format!(
            "{} the reversing section of {loops}; match it to the track before each crossing",
            are(&with_reversals(w, reversed))
        ),
    };
    let (choices, further) = choices(w, e);
    let mut more: Vec<String> =
        e.rounds.iter().take(MOST_ROUNDS).map(|round| w.around(round)).collect();
    if e.rounds.len() > MOST_ROUNDS {
        more.push(format!("{} more are shown on the plan.", e.rounds.len() - MOST_ROUNDS));
    }
    more.push(further);
    let unfit: Vec<String> = e.unfit.iter().map(|(id, why)| unfit(w, *id, *why, e)).collect();
    if !unfit.is_empty() {
        more.push(format!("It cannot be {}.", unfit.join("; nor ")));
    }
    let more: Vec<&str> = more.iter().map(String::as_str).collect();
    Text {
        says,
        why: format!("A train that goes once round comes back with its rails exchanged. {choices}"),
        more: spaced(&more),
        advice: advice(e, w),
        cautions: if e.reversed.is_empty() {
            vec![Caution::Saw, Caution::Rewire]
        } else {
            Vec::new()
        },
    }
}

fn advice(e: &Evidence, w: &Words) -> Vec<String> {
    let mut advice = Vec::new();
    match (&e.reversed[..], &e.sets[..]) {
        ([], []) => advice.push(format!(
            "Move the gaps, or cut anew, so that a block on the loop has more than {} between its ends.",
            w.units.mm(e.longest.mm)
        )),
        ([], [_, ..]) => advice.push(
            "Feed the section through a reversing switch of its own, from a driver of its own, or on DCC through an \
             auto-reverser."
                .into(),
        ),
        ([_, ..], _) => {}
    }
    if !e.sets.is_empty() {
        let section = match &e.reversed[..] {
            [] => "the section".to_owned(),
            reversed => w.block_names(&reversed.iter().map(|r| r.0).collect::<Vec<_>>()),
        };
        let by_itself = e.reversed.iter().any(|(_, by)| by.rank() < 2);
        advice.extend(operating(&section, e.fed_by, by_itself));
    }
    advice
}

/// Half a turn of a bridge.
fn turntable(e: &Evidence, w: &Words, table: SpecialId) -> Text {
    let name = w.special_name(table);
    let (says, mut advice) = match &e.reversed[..] {
        [] => (
            format!(
                "{name}: half a turn exchanges the bridge's rails and nothing reverses its feed; let the turntable exchange \
                 them"
            ),
            vec![
                "Let the turntable exchange the bridge's rails by itself.".to_owned(),
                "Or feed the bridge through a reversing switch, a driver or an auto-reverser of its own.".to_owned(),
            ],
        ),
        reversed => (
            format!(
                "{name}: half a turn exchanges the bridge's rails; {} the reversing section",
                are(&with_reversals(w, reversed))
            ),
            Vec::new(),
        ),
    };
    if e.reversed.iter().all(|(_, by)| by.rank() > 1) {
        advice.push(
            "Before a locomotive drives onto the bridge, match the bridge to the road that it comes from.".into(),
        );
        advice.push(
            "When the bridge stands at the next road, match that road to the bridge (on DC), or the bridge to that road \
             (on DCC), before it drives off."
                .into(),
        );
    }
    Text {
        says: capital(&says),
        why: "A road that is reached again after half a turn meets the bridge's other end, its left rail where its right rail \
              was. The gaps between the bridge and its roads are open in both rails, so the bridge by itself is the section."
            .into(),
        more: "What fits on the bridge cannot bridge both its ends at once.".into(),
        advice,
        cautions: if e.reversed.is_empty() { vec![Caution::Rewire] } else { Vec::new() },
    }
}

/// Which blocks can be the sections: one sentence, and what else is to be said of them.
fn choices(w: &Words, e: &Evidence) -> (String, String) {
    let named: Vec<String> =
        e.sets.iter().take(MOST_SETS).map(|blocks| set(w, blocks, e)).collect();
    let text = match &named[..] {
        [] if e.exhaustive => "No set of blocks can be reversing sections here.".to_owned(),
        [] => "No set of blocks was found that can be reversing sections here.".to_owned(),
        [one] => format!("The reversing section can be {one}."),
        [first @ .., last] => {
            format!("The reversing section can be {}, or {last}.", first.join(", or "))
        }
    };
    let mut further: Vec<String> = Vec::new();
    if e.sets.len() > MOST_SETS {
        further.push(format!("There are {} more choices.", e.sets.len() - MOST_SETS));
    } else if !e.all && e.exhaustive {
        further.push("There are more choices.".to_owned());
    }
    if !e.exhaustive {
        further.push(
            "The search was broken off: there may be choices with fewer sections than these."
                .to_owned(),
        );
    }
    (text, further.join(" "))
}

fn set(w: &Words, set: &[BlockId], e: &Evidence) -> String {
    let one = |id: &BlockId| match e.apart.get(id) {
        Some(ends) => format!(
            "{} ({} between its ends{}, of which {} can be bridged)",
            w.block_name(*id),
            w.units.mm(ends.mm),
            if ends.across { " across its neighbours" } else { "" },
            w.units.mm(e.longest.mm)
        ),
        None => w.block_name(*id),
    };
    and(&set.iter().map(one).collect::<Vec<_>>())
}

fn unfit(w: &Words, id: BlockId, why: Unfit, e: &Evidence) -> String {
    match why {
        Unfit::Shares => {
            format!("{}, which shares a rail with another block there", w.block_name(id))
        }
        Unfit::Short(ends) => format!(
            "{}, two ends of which are {} apart{}, while {}",
            w.block_name(id),
            w.units.mm(ends.mm),
            if ends.across { " across its neighbours" } else { "" },
            w.bridges(&e.longest)
        ),
    }
}

fn with_reversals(w: &Words, reversed: &[(BlockId, Reversal)]) -> Vec<String> {
    let one = |(block, by): &(BlockId, Reversal)| {
        let by = match *by {
            Reversal::Bridge(_) => "exchanged by the turntable itself".to_owned(),
            Reversal::AutoReverser(id) | Reversal::Switch(id) => {
                format!("through {}", w.device(id))
            }
            Reversal::Driver(id) => format!("by {}", w.driver(id)),
        };
        format!("{} ({by})", w.block_name(*block))
    };
    reversed.iter().map(one).collect()
}

fn some_blocks(w: &Words) -> String {
    match &w.finding.blocks[..] {
        blocks if blocks.len() <= 4 => w.block_names(blocks),
        blocks => format!("{} and {} more", w.block_names(&blocks[..3]), blocks.len() - 3),
    }
}

fn one_of(w: &Words, sets: &[Vec<BlockId>]) -> String {
    match sets {
        [one] => w.block_names(one),
        _ => sets.iter().take(3).map(|set| w.block_names(set)).collect::<Vec<_>>().join(" or "),
    }
}

fn are(names: &[String]) -> String {
    format!("{} {}", and(names), if names.len() == 1 { "is" } else { "are together" })
}

/// How a reversing section is operated.
fn operating(section: &str, [dc, dcc]: [bool; 2], by_itself: bool) -> Vec<String> {
    let mut lines = Vec::new();
    if dc || !dcc {
        lines.push(format!(
            "{}1. Before a train enters {section}, match {section} to the line that it comes from.",
            if dcc { "On DC: " } else { "" }
        ));
        lines.push(format!(
            "2. Wait until the whole train is inside, to its last metal wheels. Do not reverse {section} now: on DC that \
             reverses the train."
        ));
        lines.push(format!(
            "3. Reverse the line ahead, so that it matches {section}, and let the train out."
        ));
    }
    if dcc {
        lines.push(if by_itself {
            format!("{}{section} flips by itself when the first wheels bridge its end; trains run on.", if dc { "On DCC: " } else { "" })
        } else {
            format!(
                "{}Flip {section} between the train's entry and its exit, while it stands wholly inside; on DCC that does not \
                 reverse it.",
                if dc { "On DCC: " } else { "" }
            )
        });
    }
    lines
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    if e.reversed.is_empty() { loops::reversed(e, near) } else { Vec::new() }
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        let fed = |cuts: &[(u32, f64)]| return_loop(cuts, &format!("{ONE_DRIVER} {NAMES}"));
        vec![Pair {
            with: fed(TWO_CUTS),
            twin: fed(&TWO_CUTS[..1]),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[2, 1],
            blocks: 2,
            says: "Main or Loop: a loop comes back with its rails exchanged and nothing reverses it; feed it through a reversing switch",
        }]
    }
}
