//! `loop-one-cut`: track that leads back onto itself the other way round with both rails cut in one place only.

use super::shared::loops;
use super::{Caution, Cure, Found, Near, Text, View, Words};

pub use super::shared::loops::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::without_room(view, false)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let blocks = w.blocks();
    let (says, why, cut) = match &e.round.cuts[..] {
        [] => (
            format!("{blocks}: a loop with no gap in both rails at one place; cut both rails in two places"),
            "The track comes back on itself with its rails exchanged, and nowhere are both rails cut at one place. No switch, \
             auto-reverser or throttle cures that."
                .to_owned(),
            "Cut both rails in two places on the loop, each pair at one place.".to_owned(),
        ),
        cuts => (
            format!("{blocks}: a loop with one gap; cut both rails a second time"),
            format!(
                "The track comes back on itself with its rails exchanged, and both rails are cut only at {}. One block, \
                 opposite to itself, is on both sides of that gap, so no switch, auto-reverser or throttle cures it.",
                w.gaps(cuts)
            ),
            format!("Cut both rails a second time on the loop, away from {}.", w.gaps(cuts)),
        ),
    };
    Text {
        says,
        why,
        more: w.around(&e.round),
        advice: vec![cut, w.room_for(&e.longest)],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    loops::second_cut(&e.round, &e.longest, near)
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        let fed = |cuts: &[(u32, f64)]| return_loop(cuts, &format!("{ONE_DRIVER} {NAMES}"));
        vec![Pair {
            with: return_loop(&TWO_CUTS[..1], &format!("{ONE_FEED} {NAMES}")),
            twin: fed(TWO_CUTS),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 1,
            says: "Main + Loop: a loop with one gap; cut both rails a second time",
        }]
    }
}
