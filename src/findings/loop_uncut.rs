//! `loop-uncut`: track that leads back onto itself the other way round without a gap in both rails.

use super::shared::loops;
use super::{Caution, Cure, Found, Near, Text, Verdict, View, Words};

pub use super::shared::loops::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::without_room(view, true)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let fed = w.finding.verdict == Verdict::Short;
    Text {
        says: format!(
            "{}: the track comes back on itself with its rails exchanged and no gap{}; cut both rails in two places",
            w.blocks(),
            if fed { ", a standing short" } else { "" }
        ),
        why: format!(
            "Once round, the metal of one rail is also that of the other.{}",
            if fed { " Whatever feeds it is shorted without any train." } else { "" }
        ),
        more: w.around(&e.round),
        advice: vec![
            "Cut both rails in two places on the loop, so that the block between them can be a reversing section.".into(),
            w.room_for(&e.longest),
        ],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    loops::two_cuts(&e.round, &e.longest, near)
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        let fed = |cuts: &[(u32, f64)]| return_loop(cuts, &format!("{ONE_DRIVER} {NAMES}"));
        vec![Pair {
            with: fed(&[]),
            twin: fed(TWO_CUTS),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "Main + Loop: the track comes back on itself with its rails exchanged and no gap, a standing short; cut both rails in two places",
        }]
    }
}
