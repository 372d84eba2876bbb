//! `unbalanced-loop`: track that leads back onto itself the other way round, with room for a reversing section.

use super::shared::loops;
use super::{Cure, Found, Text, View, Words};
use crate::layout::Layout;

/// Loops with room for reversing sections.
pub use super::LoopSections as Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::with_room(view)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.sections(e)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            blocks: 1,
            says: "Main or Loop: a loop leads back onto itself the other way round; nothing reverses it",
        }]
    }
}
